"""Bodies as a case file writes them, read alone."""

from __future__ import annotations

from typing import Any

from pydantic import TypeAdapter

from stringflux.geometry.case.bodies import Body
from stringflux.geometry.shapes.bodies import Form, SolidBody

_BODY: TypeAdapter[Any] = TypeAdapter(Body)


def points(*corners: tuple[float, float]) -> list[list[str]]:
    """Corners in mm as the file writes them."""
    return [[f"{u} mm", f"{v} mm"] for u, v in corners]


def form(shape: str, **keys: Any) -> Form:
    """The form of a body; numbers are mm, and its underside is at 0 unless said."""
    return solid(shape, **keys).form


def solid(shape: str, *, material: str = "steel-1008", **keys: Any) -> SolidBody:
    """A body; numbers are mm."""
    table = {k: f"{v} mm" if isinstance(v, int | float) else v for k, v in keys.items()}
    place = {} if {"top", "bottom"} & set(table) else {"bottom": "0 mm"}
    read: SolidBody = _BODY.validate_python({"shape": shape, "material": material} | place | table).solid_body("body")
    return read
