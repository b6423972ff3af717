"""A prism: an outline carried on from end to end."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from ...errors import CaseError
from ...shapes.loops import Loop, area, check_holes, check_outline, circle, polygon, rounded
from ...shapes.pieces import FormPiece, Prism
from ..keys import Quantity, Table
from .made import FormTable, Lies, Made, laid
from .table import Place, Size

Corner = Annotated[float, Quantity("length", 0.01e-3, 100e-3)]
Outline = Annotated[tuple[tuple[Place, Place], ...], Field(min_length=3, max_length=200)]


class RoundHole(Table):
    """A hole through a prism."""

    at: Annotated[tuple[Place, Place], Field(description="Its middle, in the directions of the outline.")]
    diameter: Annotated[Size, Field(description="Across it.")]


class PrismForm(FormTable):
    """What a prism is."""

    outline: Annotated[
        Outline,
        Field(description="Its corners in order: [x, y] from its centre if it stands upright; [y, z] if it lies "
                          "along the strings, [x, z] across them, heights from any level."),
    ]
    length: Annotated[Size, Field(description="How far the outline is carried on, from end to end.")]
    lies: Annotated[Lies, Field(description="Which way it is carried on.")] = "upright"
    corner: Annotated[Corner | None, Field(description="Radius of the corners of its outline; sharp without.")] = None
    holes: Annotated[
        tuple[Outline, ...], Field(max_length=24, description="Outlines of holes from end to end.")
    ] = ()
    round_holes: Annotated[tuple[RoundHole, ...], Field(max_length=24, description="Round holes, end to end.")] = ()

    def made(self) -> Made:
        prism = Prism(outline=self._rim(), holes=self._holes(), length=self.length)
        return Made(kind="prism", joined=laid((FormPiece(shape=prism),), self.lies, self.length),
                    thickness=min(self.length, least_width(prism.outline)))

    def _rim(self) -> Loop:
        sharp = polygon(self.outline)
        check_outline(sharp, "outline")
        if self.corner is None:
            return sharp
        try:
            rim = rounded(sharp, self.corner)
        except CaseError as error:
            raise CaseError(f"corner: {error}") from None
        check_outline(rim, "corner")
        return rim

    def _holes(self) -> tuple[Loop, ...]:
        square = tuple(polygon(hole) for hole in self.holes)
        for i, hole in enumerate(square, start=1):
            check_outline(hole, f"holes {i}")
        discs = tuple(circle(hole.at, hole.diameter / 2) for hole in self.round_holes)
        check_holes(self._rim(), square, "holes")
        check_holes(self._rim(), discs, "round_holes")
        check_holes(self._rim(), (*square, *discs), "round_holes")
        return (*square, *discs)


def least_width(outline: Loop) -> float:
    """The width of the rectangle with the outline's area and its greatest extent, m: how thin it is."""
    us, vs = [u for u, *_ in outline], [v for _, v, *_ in outline]
    extent = max(max(us) - min(us), max(vs) - min(vs))
    return min(abs(area(outline)) / extent, max(us) - min(us), max(vs) - min(vs))
