"""Boxes, with chamfered edges too, wedges and cylinders, as forms made of pieces."""

from __future__ import annotations

from itertools import product
from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from ...errors import CaseError
from ...shapes.loops import circle, polygon
from ...shapes.pieces import FormPiece, Hull, Prism
from ...units import mm
from ..keys import Quantity
from .made import FormTable, Lies, Made, laid
from .table import Place, Size

Chamfer = Annotated[float, Quantity("length", 0.01e-3, 50e-3)]
Tip = Annotated[float, Quantity("length", 0.0, 200e-3)]
Edges: TypeAlias = Literal["upper edges", "upright edges", "all edges"]
_Corner: TypeAlias = tuple[float, float, float]


class BoxForm(FormTable):
    """What a box is."""

    along: Annotated[Size, Field(description="Size along the strings.")]
    across: Annotated[Size, Field(description="Size across the strings.")]
    height: Annotated[Size, Field(description="Size upwards.")]
    chamfer: Annotated[
        Chamfer | None, Field(description="How much of both faces is taken off along its edges; sharp without.")
    ] = None
    chamfered: Annotated[Edges, Field(description="Which edges have it.")] = "upper edges"

    def made(self) -> Made:
        sizes = (self.along, self.across, self.height)
        if self.chamfer is None:
            shape: Prism | Hull = Prism(outline=_rectangle(self.along, self.across), length=self.height)
        else:
            shape = Hull(points=self._chamfered(self.chamfer))
        return Made(kind="box", joined=(FormPiece(shape=shape),), thickness=min(sizes))

    def _chamfered(self, c: float) -> tuple[_Corner, ...]:
        """Corners on the faces that are left."""
        a, b, h = self.along / 2, self.across / 2, self.height
        least = min(2 * a, 2 * b, h if self.chamfered == "all edges" else 2 * h)
        if self.chamfered == "upright edges":
            least = min(2 * a, 2 * b)
        if 2 * c >= least:
            raise CaseError(f"chamfer: received {mm(c)}, which leaves nothing of a face of the box; write less than "
                            f"{mm(least / 2)}, or a wedge")
        signs = [*product((-1, 1), (-1, 1))]
        if self.chamfered == "upright edges":
            flat = [(s * a, t * (b - c)) for s, t in signs] + [(s * (a - c), t * b) for s, t in signs]
            return tuple((x, y, z) for x, y in flat for z in (0.0, h))
        upper = [(s * a, t * b, h - c) for s, t in signs] + [(s * (a - c), t * (b - c), h) for s, t in signs]
        if self.chamfered == "upper edges":
            return (*((s * a, t * b, 0.0) for s, t in signs), *upper)
        return tuple(p for s, t in signs for z, way in ((0.0, 1), (h, -1)) for p in (
            (s * (a - c), t * (b - c), z), (s * a, t * (b - c), z + way * c), (s * (a - c), t * b, z + way * c)))


class WedgeForm(FormTable):
    """What a wedge is: a block whose upper part narrows to a tip."""

    along: Annotated[Size, Field(description="Size of its foot along the strings.")]
    across: Annotated[Size, Field(description="Size of its foot across the strings.")]
    height: Annotated[Size, Field(description="Size upwards.")]
    tip_along: Annotated[Tip, Field(description="Size of its upper side along the strings; 0 mm: an edge.")] = 0.0
    tip_across: Annotated[
        Tip | None, Field(description="Size of its upper side across the strings; that of its foot if left out.")
    ] = None
    tip_height: Annotated[
        Size | None, Field(description="Height of the part that narrows; all of it if left out.")
    ] = None
    tip_centre: Annotated[
        tuple[Place, Place], Field(description="Place [x, y] of the middle of its upper side, from its centre.")
    ] = (0.0, 0.0)

    def made(self) -> Made:
        a, b, h = self.along / 2, self.across / 2, self.height
        u, v = self.tip_along / 2, b if self.tip_across is None else self.tip_across / 2
        (x, y), tip = self.tip_centre, self.height if self.tip_height is None else self.tip_height
        for key, half, room, off in (("tip_along", u, a, x), ("tip_across", v, b, y)):
            if abs(off) + half > room + 1e-12:
                raise CaseError(f"{key}: received {mm(2 * half)}, which reaches beyond the foot, {mm(2 * room)}; "
                                f"write at most {mm(max(2 * (room - abs(off)), 0.0))}, or turn it over by rotated")
        if tip > h:
            raise CaseError(f"tip_height: received {mm(tip)}, more than height, {mm(h)}; write that or less")
        signs = [*product((-1, 1), (-1, 1))]
        levels = (0.0,) if tip >= h - 1e-12 else (0.0, h - tip)
        points = [(s * a, t * b, z) for s, t in signs for z in levels]
        points += [(x + s * u, y + t * v, h) for s, t in signs]
        hull = Hull(points=tuple(dict.fromkeys((p + 0.0, q + 0.0, r) for p, q, r in points)))
        return Made(kind="wedge", joined=(FormPiece(shape=hull),), thickness=min(self.along, self.across, h))


class CylinderForm(FormTable):
    """What a cylinder is."""

    diameter: Annotated[Size, Field(description="Outside diameter.")]
    length: Annotated[Size, Field(description="From end to end.")]
    lies: Annotated[Lies, Field(description="Which way its axis runs.")] = "upright"

    def made(self) -> Made:
        prism = Prism(outline=circle((0.0, 0.0), self.diameter / 2), length=self.length)
        return Made(kind="cylinder", joined=laid((FormPiece(shape=prism),), self.lies, self.length),
                    thickness=min(self.diameter, self.length), bar=False)


def _rectangle(along: float, across: float) -> tuple[_Corner, ...]:
    a, b = along / 2, across / 2
    return polygon([(-a, -b), (a, -b), (a, b), (-a, b)])
