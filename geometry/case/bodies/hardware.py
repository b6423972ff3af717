"""Screws with a slot or a hex socket, without their thread, and plates with holes for them."""

from __future__ import annotations

import math
from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from ...errors import CaseError
from ...shapes.loops import Loop, check_holes, circle, polygon, rounded
from ...shapes.pieces import FormPiece, Prism, Turned
from ...shapes.placement import Placement
from ...units import mm
from ..keys import Table
from .made import FormTable, Made
from .prism import Corner
from .table import Place, Size

Head: TypeAlias = Literal["cylinder", "dome", "countersunk"]
_BEYOND = 1e-3  # m: a slot is cut longer than the head is wide


class ScrewForm(FormTable):
    """What a screw is, its head up."""

    head: Annotated[Head, Field(description="Form of its head.")] = "cylinder"
    head_diameter: Annotated[Size, Field(description="Across its head.")]
    head_height: Annotated[Size, Field(description="From under its head to the top.")]
    diameter: Annotated[Size, Field(description="Of its shank, over the thread or the mean of it.")]
    length: Annotated[Size, Field(description="From end to end, with its head.")]
    drive: Annotated[Literal["slot", "hex"] | None, Field(description="What turns it; nothing if left out.")] = None
    drive_width: Annotated[Size | None, Field(description="Width of the slot, or across flats of the hex.")] = None
    drive_depth: Annotated[Size | None, Field(description="From the top of its head down.")] = None

    def made(self) -> Made:
        a, r, full, head = self.head_diameter / 2, self.diameter / 2, self.length, self.head_height
        if r >= a:
            raise CaseError(f"diameter: received {mm(2 * r)}, which is no less than head_diameter, {mm(2 * a)}; "
                            "write a thinner shank, or a cylinder")
        if head >= full:
            raise CaseError(f"head_height: received {mm(head)}, no less than length, {mm(full)}, which has the head "
                            "in it; write less")
        if self.head == "dome" and head > a:
            raise CaseError(f"head_height: received {mm(head)}, more than half of head_diameter, {mm(a)}; a dome is "
                            "lower")
        under = full - head
        rim: Loop = ((0.0, 0.0, 0.0), (r, 0.0, 0.0), (r, under, 0.0))
        if self.head == "cylinder":
            rim += ((a, under, 0.0), (a, full, 0.0))
        elif self.head == "countersunk":
            rim += ((a, full, 0.0),)
        else:  # the arc of a sphere through the rim and the top: its half angle has sin = a / R
            sphere = (a * a + head * head) / (2 * head)
            rim += ((a, under, math.tan(math.asin(min(a / sphere, 1.0)) / 4)),)
        rim += ((0.0, full, 0.0),)
        return Made(kind="screw", joined=(FormPiece(shape=Turned(outline=rim)),), cut=self._drive(), bar=False,
                    thickness=min(2 * r, full))

    def _drive(self) -> tuple[FormPiece, ...]:
        if self.drive is None:
            if (self.drive_width, self.drive_depth) != (None, None):
                raise CaseError('drive: it is missing; write "slot" or "hex", or drop drive_width and drive_depth')
            return ()
        width, depth = self.drive_width, self.drive_depth
        if width is None or depth is None:
            key = "drive_width" if width is None else "drive_depth"
            raise CaseError(f"{key}: it is missing; a {self.drive} has both, drive_width and drive_depth")
        room = self.head_diameter * (1.0 if self.drive == "slot" else math.sqrt(0.75))
        if width >= room:
            raise CaseError(f"drive_width: received {mm(width)}, which takes the whole head; write less than "
                            f"{mm(room)}")
        if depth >= self.length:
            raise CaseError(f"drive_depth: received {mm(depth)}, no less than length; write less")
        if self.drive == "slot":
            half = self.head_diameter / 2 + _BEYOND
            outline = polygon([(-width / 2, -half), (width / 2, -half), (width / 2, half), (-width / 2, half)])
        else:
            corner = width / math.sqrt(3)
            outline = polygon([(corner * math.cos(k * math.pi / 3), corner * math.sin(k * math.pi / 3))
                               for k in range(6)])
        place = Placement(shift=(0.0, 0.0, self.length - depth))
        return (FormPiece(shape=Prism(outline=outline, length=depth), placement=place),)


class ScrewHole(Table):
    """A hole for a screw."""

    at: Annotated[tuple[Place, Place], Field(description="Place [x, y] of its middle, from that of the plate.")]
    diameter: Annotated[Size, Field(description="Across it.")]
    countersunk: Annotated[
        Size | None, Field(description="Diameter at the upper side, if it widens there, by a cone of 90 degrees.")
    ] = None


class PlateForm(FormTable):
    """What a plate with holes is."""

    along: Annotated[Size, Field(description="Size along the strings.")]
    across: Annotated[Size, Field(description="Size across the strings.")]
    height: Annotated[Size, Field(description="Its thickness.")]
    corner: Annotated[Corner | None, Field(description="Radius of its four corners; sharp without.")] = None
    screw_holes: Annotated[tuple[ScrewHole, ...], Field(max_length=24, description="Holes, upright.")] = ()

    def made(self) -> Made:
        rim = polygon([(s * self.along / 2, t * self.across / 2) for s, t in ((-1, -1), (1, -1), (1, 1), (-1, 1))])
        if self.corner is not None:
            try:
                rim = rounded(rim, self.corner)
            except CaseError as error:
                raise CaseError(f"corner: {error}") from None
        check_holes(rim, [circle(h.at, max(h.diameter, h.countersunk or 0.0) / 2) for h in self.screw_holes],
                    "screw_holes")
        prism = Prism(outline=rim, holes=tuple(circle(h.at, h.diameter / 2) for h in self.screw_holes),
                      length=self.height)
        cones = tuple(self._cone(i, h) for i, h in enumerate(self.screw_holes, start=1) if h.countersunk is not None)
        return Made(kind="plate", joined=(FormPiece(shape=prism),), cut=cones,
                    thickness=min(self.along, self.across, self.height))

    def _cone(self, number: int, hole: ScrewHole) -> FormPiece:
        r, wide = hole.diameter / 2, (hole.countersunk or 0.0) / 2
        deep = wide - r
        if deep <= 0.0:
            raise CaseError(f"screw_holes {number}, countersunk: received {mm(2 * wide)}, no more than diameter, "
                            f"{mm(2 * r)}; write more, or drop it")
        if deep > self.height:
            raise CaseError(f"screw_holes {number}, countersunk: received {mm(2 * wide)}, whose cone is deeper than "
                            f"the plate; write at most {mm(2 * (r + self.height))}")
        cone = Turned(outline=polygon([(0.0, 0.0), (r, 0.0), (wide, deep), (0.0, deep)]))
        return FormPiece(shape=cone, placement=Placement(shift=(*hole.at, self.height - deep)))
