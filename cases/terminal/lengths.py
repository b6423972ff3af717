"""Gaps and heights for people: millimetres, and inches beside them where the case writes such lengths in inches."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

_INCHES = re.compile(r"[\d.]\s*(?:in|inch|mil|thou|\"|″|''|”)$")


@dataclass(frozen=True)
class Inches:
    """Which lengths a case writes in inches: gaps, by their own key or by the strings' height, and faces."""

    gap: bool = False
    face: bool = False


MILLIMETRES = Inches()


def written_in_inches(content: Mapping[str, Any]) -> Inches:
    """What of a file's content is in inches.

    Examples
    --------
    >>> written_in_inches({"strings": {"gap": "3/32 in"}, "string": [{"gauge": "0.017 in"}], "row": {"face": "1 mm"}})
    Inches(gap=True, face=False)
    """
    return Inches(gap=_in_inches(content, ("gap", "height")), face=_in_inches(content, ("face",)))


def _in_inches(content: Any, keys: tuple[str, ...]) -> bool:
    if isinstance(content, Mapping):
        return any(_in_inches(value, keys) or (key in keys and _written(value)) for key, value in content.items())
    return isinstance(content, list | tuple) and any(_in_inches(value, keys) for value in content)


def _written(value: Any) -> bool:
    if isinstance(value, Mapping):
        return any(_written(inner) for inner in value.values())
    if isinstance(value, list | tuple):
        return any(_written(inner) for inner in value)
    return isinstance(value, str) and _INCHES.search(value.strip()) is not None


def length_head(name: str, *, inches: bool) -> str:
    """A column's head with its unit."""
    return f"{name}\n{length_unit(inches=inches)}"


def length_unit(*, inches: bool) -> str:
    """What stands in a head."""
    return "mm (in)" if inches else "mm"


def length_cell(metres: float, *, inches: bool) -> str:
    """A length in the units of its head.

    Examples
    --------
    >>> length_cell(2.38125e-3, inches=False), length_cell(2.38125e-3, inches=True)
    ('2.38', '2.38 (0.094)')
    """
    if math.isnan(metres):
        return "–"
    return f"{metres * 1e3:.2f} ({metres / 25.4e-3:.3f})" if inches else f"{metres * 1e3:.2f}"
