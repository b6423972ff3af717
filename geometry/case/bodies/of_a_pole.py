"""Parts of poles of any form: what can stand in a row in place of a round part.

A part has the keys of its form as a body of that form has them, but no place of its own: its form's [0, 0] lies on
the pole's axis, its highest place at the face or under the part above.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import Field, model_validator

from ...shapes.pieces import Shaped
from ..keys import Table
from ..magnets import Charge, CoercivityScale, Polarity, RemanenceScale
from ..threads import Threaded
from .blocks import BoxForm, CylinderForm, WedgeForm
from .from_file import FileForm
from .hardware import PlateForm, ScrewForm
from .made import refused
from .prism import PrismForm
from .revolved import RevolvedForm
from .whole import WholeForm

RoundPart: TypeAlias = Mapping[str, Any]
"""Keys of a round part, in SI: diameter, length, perhaps a tip."""


class PartTable(Table):
    """What it is made of."""

    material: Annotated[str, Field(description="Name in the table of materials or under [materials].")]
    polarity: Polarity = None
    charge: Charge = 1.0
    coercivity_scale: CoercivityScale = 1.0
    remanence_scale: RemanenceScale = 1.0


class FormedPart(WholeForm, PartTable):
    """What parts of any form have."""

    @model_validator(mode="after")
    def _has_a_form(self) -> FormedPart:
        refused(lambda: self.shaped(0.0, 0.0, 0.0))
        return self

    @property
    def tall(self) -> float:
        """From its highest to its lowest place, m."""
        return round(self.made_tall, 12)

    @property
    def tall_key(self) -> str:
        """The key that says how high it is; "" where none does by itself."""
        found = (key for key in ("height", "length") if getattr(self, key, None) == self.tall)
        return next(found, "") if self.is_by_itself else ""

    def under(self, top: float) -> Shaped:
        """Its form on the axis, the highest place at `top`, m."""
        return self.shaped(0.0, 0.0, round(top - self.tall, 12))

    def stack(self) -> tuple[RoundPart, ...]:
        """The round parts, from the top down, that it is the same as; () where it is none about the pole's axis."""
        return self._stack() if self.is_by_itself else ()

    def _stack(self) -> tuple[RoundPart, ...]:
        return ()

    @property
    def thread_pitch(self) -> float | None:
        """Of its thread, m a turn, where one is given."""
        return None


class BoxPart(BoxForm, FormedPart):
    """A block, with chamfered edges too."""

    shape: Literal["box"]


class CylinderPart(Threaded, CylinderForm, FormedPart):
    """A rod, also one that lies."""

    shape: Literal["cylinder"]

    def _stack(self) -> tuple[RoundPart, ...]:
        return ({"diameter": self.diameter, "length": self.length},) if self.lies == "upright" else ()


class PrismPart(PrismForm, FormedPart):
    """An outline carried on from end to end."""

    shape: Literal["prism"]


class RevolvedPart(RevolvedForm, FormedPart):
    """A body of revolution about any axis."""

    shape: Literal["revolved"]

    def _stack(self) -> tuple[RoundPart, ...]:
        return stacked(self.outline) if self.lies == "upright" else ()


class WedgePart(WedgeForm, FormedPart):
    """A block that narrows, a chisel, a pyramid."""

    shape: Literal["wedge"]


class PlatePart(PlateForm, FormedPart):
    """A plate with holes for screws."""

    shape: Literal["plate"]


class ScrewPart(Threaded, ScrewForm, FormedPart):
    """A screw, its head up, solved without its thread."""

    shape: Literal["screw"]

    def _stack(self) -> tuple[RoundPart, ...]:
        if self.head != "cylinder" or self.drive is not None:
            return ()
        return ({"diameter": self.head_diameter, "length": self.head_height},
                {"diameter": self.diameter, "length": round(self.length - self.head_height, 12)})


class FilePart(FileForm, FormedPart):
    """What a file holds."""

    shape: Literal["file"] = "file"


def stacked(outline: Sequence[tuple[float, float]]) -> tuple[RoundPart, ...]:
    """The round parts, from the top down, that an outline [radius, place along an upright axis] is the same as.

    The uppermost may have any upper edge that goes outwards only; what is under a step outwards is cylinders.

    Returns
    -------
    tuple of mapping
        () where there is no such stack: a ring, a slope under a head.

    Examples
    --------
    >>> mushroom = [(0.0, 0.0), (2e-3, 0.0), (2e-3, 9e-3), (4e-3, 9e-3), (4e-3, 12e-3), (0.0, 12e-3)]
    >>> [(round(1e3 * part["diameter"], 6), round(1e3 * part["length"], 6)) for part in stacked(mushroom)]
    [(8.0, 3.0), (4.0, 9.0)]
    """
    points = list(outline)
    if sum(r0 * z1 - r1 * z0 for (r0, z0), (r1, z1) in zip(points, [*points[1:], points[0]], strict=True)) < 0:
        points.reverse()
    on_axis = [i for i, (r, _) in enumerate(points) if r == 0.0]
    if len(on_axis) != 2:
        return ()
    foot = min(on_axis, key=lambda i: points[i][1])
    side = [*points[foot:], *points[:foot]]  # from the axis below round to the axis above
    below: list[RoundPart] = []
    while (step := _step_outwards(side)) is not None:
        (_, low), (radius, bottom), high = *side[:2], side[step - 1][1]
        if bottom != low or side[step][1] != high or any(r != radius for r, _ in side[1:step]):
            return ()
        below.append({"diameter": 2 * radius, "length": round(high - low, 12)})
        side = [(0.0, high), *side[step:]]
    (_, low), (radius, bottom), *edge = side
    if bottom != low or not edge or edge[0][0] != radius or any(z <= low for _, z in edge):
        return ()
    top, upper = max(z for _, z in edge), tuple(reversed(edge))
    part: dict[str, Any] = {"diameter": 2 * radius, "length": round(top - low, 12)}
    if any(z != top for _, z in upper):
        part["tip"] = {"shape": "polyline", "points": [[r, round(z - top, 12)] for r, z in upper]}
    return part, *reversed(below)


def _step_outwards(side: Sequence[tuple[float, float]]) -> int | None:
    """Number of the first point further out than the one below it on the side of a part; None without one."""
    return next((i for i in range(3, len(side)) if side[i][0] > side[i - 1][0]), None)


FormedParts: TypeAlias = (
    BoxPart | CylinderPart | PrismPart | RevolvedPart | WedgePart | PlatePart | ScrewPart | FilePart
)
