"""What all bodies of a case besides the poles of a row have: material, place, height, magnetisation.

A body stands on its `bottom` or hangs from its `top` over (x, y) = `centre`. x runs along the strings towards the
bridge, y across them, z up from the bobbin's top plate.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from typing import Annotated, Any, Literal

from pydantic import Field, GetCoreSchemaHandler, GetJsonSchemaHandler, model_validator
from pydantic_core import CoreSchema, core_schema

from ...shapes.bodies import Form, Point, SolidBody
from ...units import shown
from ..keys import Printed, Quantity, Table
from ..magnets import Charge, CoercivityScale, RemanenceScale, magnet_state
from ..threads import Screw

Size = Annotated[float, Quantity("length", 0.05e-3, 200e-3)]
Wall = Annotated[float, Quantity("length", 0.05e-3, 20e-3)]
Level = Annotated[float, Quantity("length", -150e-3, 50e-3)]
Place = Annotated[float, Quantity("length", -150e-3, 150e-3)]

DIRECTIONS: dict[str, Point] = {
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
    "to +x": (1.0, 0.0, 0.0),
    "to -x": (-1.0, 0.0, 0.0),
    "to +y": (0.0, 1.0, 0.0),
    "to -y": (0.0, -1.0, 0.0),
}
LARGEST_NUMBER = 1e6  # of a direction
# Names of the material table that hold no magnetism; a test compares them with the table.
NON_MAGNETIC = frozenset({"air", "aluminium", "brass", "copper", "nickel-silver", "spacer"})


class Direction:
    """Marks a direction: one of the words of `DIRECTIONS`, or three numbers [x, y, z]."""

    def read(self, value: Any) -> str | Point:
        words = ", ".join(f'"{word}"' for word in DIRECTIONS)
        if isinstance(value, str) and value in DIRECTIONS:
            return value
        if not isinstance(value, list | tuple):
            raise ValueError(f"received {shown(value)}; write one of {words}, or three numbers [x, y, z]")
        if len(value) != 3 or not all(_is_number(v) for v in value):
            raise ValueError(f"received {shown(value)} that is not three numbers; write [x, y, z] such as [0, 0, 1]")
        x, y, z = (float(v) for v in value)
        if not math.hypot(x, y, z) > 1e-6:
            raise ValueError("received [0, 0, 0], which points nowhere; write [x, y, z] such as [0, 0, 1]")
        return x, y, z

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        numbers = {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3}
        return {"anyOf": [{"enum": list(DIRECTIONS), "type": "string"}, numbers]}


def _is_number(value: Any) -> bool:
    plain = isinstance(value, int | float) and not isinstance(value, bool)
    return plain and abs(value) <= LARGEST_NUMBER  # which nan is not


Magnetised = Annotated[str | Point, Direction()]


class BodyTable(Table, ABC):
    """What all bodies have."""

    name: Annotated[
        Annotated[str, Field(min_length=1, max_length=40), Printed()] | None,
        Field(description='What messages call it; "body" and its number if left out.'),
    ] = None
    material: Annotated[str, Field(description="Name in the table of materials or under [materials].")]
    centre: Annotated[
        tuple[Place, Place], Field(description="Place [x, y] of its middle, along and across the strings.")
    ] = (0.0, 0.0)
    bottom: Annotated[
        Level | None, Field(description="Height of its underside over the top plate; or give top.")
    ] = None
    top: Annotated[
        Level | None, Field(description="Height of its upper side over the top plate; or give bottom.")
    ] = None
    magnetised: Annotated[
        Magnetised | None,
        Field(description="Where the north end of a magnet points; x is along the strings, towards the bridge."),
    ] = None
    electrically: Annotated[
        Literal["grounded", "floating"] | None,
        Field(description="Whether it is wired to ground, for the capacitance; if left out covers are, and other "
              "metal is as poles in [coil] says."),
    ] = None
    charge: Charge = 1.0
    coercivity_scale: CoercivityScale = 1.0
    remanence_scale: RemanenceScale = 1.0

    @model_validator(mode="after")
    def _at_one_height(self) -> BodyTable:
        one_height(self.bottom, self.top)
        return self

    @property
    def screw(self) -> Screw | None:
        """What sets its height, if it is a screw and the case gives its thread."""
        return None

    @property
    @abstractmethod
    def tall(self) -> float:
        """Size upwards, m."""

    def levels(self) -> tuple[float, float]:
        """Heights of underside and upper side over the top plate, m."""
        return levels(self.bottom, self.top, self.tall)

    @abstractmethod
    def form(self) -> Form:
        """The body as the solver sees it."""

    def direction(self) -> Point | None:
        """Where its north points; None for what is no magnet."""
        return DIRECTIONS[self.magnetised] if isinstance(self.magnetised, str) else self.magnetised

    def solid_body(self, name: str) -> SolidBody:
        """The body with its material and magnetisation."""
        return SolidBody(
            name=name,
            material=self.material,
            form=self.form(),
            magnetisation=self.direction(),
            state=magnet_state(self),
        )


def one_height(bottom: float | None, top: float | None) -> None:
    """Refuse heights of both sides or of neither."""
    if bottom is None and top is None:
        raise ValueError("bottom: it is missing; write the height of its underside over the top plate, or top")
    if bottom is not None and top is not None:
        raise ValueError("top: received together with bottom; keep one of them, the other follows from its size")


def levels(bottom: float | None, top: float | None, tall: float) -> tuple[float, float]:
    """Heights of both sides of what has one of them, m."""
    if bottom is not None:
        return bottom, round(bottom + tall, 12)
    top = top or 0.0
    return round(top - tall, 12), top
