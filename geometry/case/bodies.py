"""Bodies of a case besides the poles of a row: bars, plates, blades, screws that lie, covers, spacers.

A body stands on its `bottom` or hangs from its `top` over (x, y) = `centre`. x runs along the strings towards the
bridge, y across them, z up from the bobbin's top plate.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from typing import Annotated, Any, Literal

from pydantic import Field, GetCoreSchemaHandler, GetJsonSchemaHandler, model_validator
from pydantic_core import CoreSchema, core_schema

from ..shapes.bodies import Box, Cover, Cylinder, Form, Point, SolidBody
from ..units import mm, shown
from .keys import Printed, Quantity, Table
from .magnets import Charge, CoercivityScale, RemanenceScale, magnet_state

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
        if self.bottom is None and self.top is None:
            raise ValueError("bottom: it is missing; write the height of its underside over the top plate, or top")
        if self.bottom is not None and self.top is not None:
            raise ValueError("top: received together with bottom; keep one of them, the other follows from its size")
        return self

    @property
    @abstractmethod
    def tall(self) -> float:
        """Size upwards, m."""

    def levels(self) -> tuple[float, float]:
        """Heights of underside and upper side over the top plate, m."""
        if self.bottom is not None:
            return self.bottom, round(self.bottom + self.tall, 12)
        top = self.top or 0.0
        return round(top - self.tall, 12), top

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

    def _corners(self, along: float, across: float) -> tuple[Point, Point]:
        (x, y), (low, high) = self.centre, self.levels()
        a, b = along / 2, across / 2
        return (round(x - a, 12), round(y - b, 12), low), (round(x + a, 12), round(y + b, 12), high)


class BoxBody(BodyTable):
    """A bar, a blade, a plate, a spacer."""

    shape: Literal["box"]
    along: Annotated[Size, Field(description="Size along the strings.")]
    across: Annotated[Size, Field(description="Size across the strings.")]
    height: Annotated[Size, Field(description="Size upwards.")]

    @property
    def tall(self) -> float:
        return self.height

    def form(self) -> Form:
        low, high = self._corners(self.along, self.across)
        return Box(low=low, high=high)


class CylinderBody(BodyTable):
    """A rod, a disc, a screw."""

    shape: Literal["cylinder"]
    diameter: Annotated[Size, Field(description="Outside diameter.")]
    length: Annotated[Size, Field(description="From end to end.")]
    lies: Annotated[
        Literal["upright", "along the strings", "across the strings"], Field(description="Which way its axis runs.")
    ] = "upright"

    @property
    def tall(self) -> float:
        return self.length if self.lies == "upright" else self.diameter

    def form(self) -> Form:
        (x, y), (low, _), half = self.centre, self.levels(), self.length / 2
        middle = round(low + self.diameter / 2, 12)
        base, along = {
            "upright": ((x, y, low), 2),
            "along the strings": ((round(x - half, 12), y, middle), 0),
            "across the strings": ((x, round(y - half, 12), middle), 1),
        }[self.lies]
        return Cylinder(base=base, along=along, length=self.length, radius=self.diameter / 2)


class CoverBody(BodyTable):
    """A lid with four walls, open below."""

    shape: Literal["cover"]
    along: Annotated[Size, Field(description="Outside size along the strings.")]
    across: Annotated[Size, Field(description="Outside size across the strings.")]
    height: Annotated[Size, Field(description="Outside height, lid and walls.")]
    wall: Annotated[Wall, Field(description="Thickness of the lid and of the walls.")]

    @model_validator(mode="after")
    def _hollow(self) -> CoverBody:
        for key, size in (("along", self.along / 2), ("across", self.across / 2), ("height", self.height)):
            if self.wall >= size:
                raise ValueError(
                    f"wall: received {mm(self.wall)}, which leaves nothing hollow in {key} "
                    f"{mm(getattr(self, key))}; make it thinner, or write a box"
                )
        return self

    @property
    def tall(self) -> float:
        return self.height

    def form(self) -> Form:
        low, high = self._corners(self.along, self.across)
        return Cover(low=low, high=high, wall=self.wall)


Body = Annotated[BoxBody | CylinderBody | CoverBody, Field(discriminator="shape")]
