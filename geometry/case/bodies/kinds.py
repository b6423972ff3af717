"""The kinds of bodies: boxes, cylinders, covers, and what is made of pieces."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from ...shapes.bodies import Box, Cover, Cylinder, Form, Point
from ...units import mm
from ..threads import Threaded
from .blocks import BoxForm, CylinderForm, WedgeForm
from .from_file import FileForm
from .hardware import PlateForm, ScrewForm
from .made import LIES
from .prism import PrismForm
from .revolved import RevolvedForm
from .table import BodyTable, Size, Wall, levels
from .whole import MadeBody


class BoxBody(BoxForm, MadeBody):
    """A bar, a blade, a plate, a spacer."""

    shape: Literal["box"]

    def plain(self) -> Form | None:
        if self.chamfer is not None:
            return None
        low, high = _corners(self.centre, levels(self.bottom, self.top, self.height), self.along, self.across)
        return Box(low=low, high=high)


class CylinderBody(Threaded, CylinderForm, MadeBody):
    """A rod, a disc, a screw."""

    shape: Literal["cylinder"]

    def plain(self) -> Form | None:
        tall = self.length if self.lies == "upright" else self.diameter
        (x, y), half = self.centre, self.length / 2
        low, _ = levels(self.bottom, self.top, tall)
        middle = round(low + self.diameter / 2, 12)
        base = {
            "upright": (x, y, low),
            "along the strings": (round(x - half, 12), y, middle),
            "across the strings": (x, round(y - half, 12), middle),
        }[self.lies]
        return Cylinder(base=base, along=LIES[self.lies], length=self.length, radius=self.diameter / 2)


class PrismBody(PrismForm, MadeBody):
    """A blade with a shaped edge, a plate of any outline: an outline carried on from end to end."""

    shape: Literal["prism"]


class RevolvedBody(RevolvedForm, MadeBody):
    """A pole piece or a ring turned on a lathe, about any axis."""

    shape: Literal["revolved"]


class FileBody(FileForm, MadeBody):
    """A body of any form that a file holds."""

    shape: Literal["file"] = "file"


class PlateBody(PlateForm, MadeBody):
    """A plate with holes for screws."""

    shape: Literal["plate"]


class ScrewBody(Threaded, ScrewForm, MadeBody):
    """A screw, its head up, solved without its thread."""

    shape: Literal["screw"]


class WedgeBody(WedgeForm, MadeBody):
    """A tapered bar, a chisel, a pyramid."""

    shape: Literal["wedge"]


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
        low, high = _corners(self.centre, self.levels(), self.along, self.across)
        return Cover(low=low, high=high, wall=self.wall)


def _corners(centre: tuple[float, float], heights: tuple[float, float], along: float,
             across: float) -> tuple[Point, Point]:
    (x, y), (low, high), a, b = centre, heights, along / 2, across / 2
    return (round(x - a, 12), round(y - b, 12), low), (round(x + a, 12), round(y + b, 12), high)
