"""Boxes, cylinders and covers."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from ...shapes.bodies import Box, Cover, Cylinder, Form, Point
from ...units import mm
from .made import Lies
from .table import BodyTable, Size, Wall


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
        low, high = _corners(self, self.along, self.across)
        return Box(low=low, high=high)


class CylinderBody(BodyTable):
    """A rod, a disc, a screw."""

    shape: Literal["cylinder"]
    diameter: Annotated[Size, Field(description="Outside diameter.")]
    length: Annotated[Size, Field(description="From end to end.")]
    lies: Annotated[Lies, Field(description="Which way its axis runs.")] = "upright"

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
        low, high = _corners(self, self.along, self.across)
        return Cover(low=low, high=high, wall=self.wall)


def _corners(body: BoxBody | CoverBody, along: float, across: float) -> tuple[Point, Point]:
    (x, y), (low, high) = body.centre, body.levels()
    a, b = along / 2, across / 2
    return (round(x - a, 12), round(y - b, 12), low), (round(x + a, 12), round(y + b, 12), high)
