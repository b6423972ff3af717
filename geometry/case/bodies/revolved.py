"""A body of revolution."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from ...errors import CaseError
from ...shapes.loops import area, check_outline, polygon
from ...shapes.pieces import FormPiece, Turned
from ..keys import Quantity
from .made import FormTable, Lies, Made, laid
from .prism import least_width
from .table import Place

Radius = Annotated[float, Quantity("length", 0.0, 100e-3)]


class RevolvedForm(FormTable):
    """What is turned on a lathe: an outline that goes round an axis."""

    outline: Annotated[
        tuple[tuple[Radius, Place], ...],
        Field(min_length=3, max_length=200, description="Corners [radius, place along the axis] of half its section, "
              "in order; a last side closes it. What is solid begins and ends on the axis, at radius 0 mm."),
    ]
    lies: Annotated[Lies, Field(description="Which way its axis runs.")] = "upright"

    def made(self) -> Made:
        loop = polygon(self.outline)
        check_outline(loop, "outline")
        radii, places = [r for r, *_ in loop], [z for _, z, *_ in loop]
        if sum(r == 0.0 for r in radii) == 1:
            raise CaseError("outline: it touches the axis in one point alone; write two points at radius 0 mm, where "
                            "the body begins and ends on its axis, or none for a ring")
        low, length = min(places), max(places) - min(places)
        # of what is solid the mean diameter counts, so that a thin end is not meshed as the thick one
        width = 2 * abs(area(loop)) / length if min(radii) == 0.0 else least_width(loop)
        turned = Turned(outline=tuple((r, z - low, b) for r, z, b in loop))
        return Made(kind="turned body", joined=laid((FormPiece(shape=turned),), self.lies, length), bar=False,
                    thickness=min(width, length))
