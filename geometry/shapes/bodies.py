"""What the solid solver sees of a build: bodies anywhere, each of one material.

Lengths in metres; x along the strings, y across them, z up from the bobbin's top plate. A body has a form (box,
cylinder, a cover open below, a body of revolution about a vertical axis, or one made of pieces) and, as a magnet, a
direction.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot, inf
from typing import TypeAlias

from ..errors import CaseError
from .magnet_state import AS_GRADED, MagnetState
from .pieces import Shaped

Point: TypeAlias = tuple[float, float, float]


@dataclass(frozen=True, kw_only=True)
class Box:
    """A box with its edges along x, y and z.

    Attributes
    ----------
    low, high : (float, float, float)
        Two opposite corners, m.
    """

    low: Point
    high: Point

    @property
    def bounds(self) -> tuple[Point, Point]:
        return self.low, self.high

    @property
    def thickness(self) -> float:
        """The shortest edge, m."""
        return min(b - a for a, b in zip(self.low, self.high, strict=True))


@dataclass(frozen=True, kw_only=True)
class Cylinder:
    """A cylinder along x, y or z.

    Attributes
    ----------
    base : (float, float, float)
        Middle of its end at the lower coordinate, m.
    along : int
        0, 1 or 2: the axis it lies along.
    length, radius : float
        m.
    """

    base: Point
    along: int
    length: float
    radius: float

    @property
    def bounds(self) -> tuple[Point, Point]:
        low = [c - (0.0 if i == self.along else self.radius) for i, c in enumerate(self.base)]
        high = [c + (self.length if i == self.along else self.radius) for i, c in enumerate(self.base)]
        return (low[0], low[1], low[2]), (high[0], high[1], high[2])

    @property
    def thickness(self) -> float:
        return min(2 * self.radius, self.length)


@dataclass(frozen=True, kw_only=True)
class Cover:
    """A box that is hollow and open below: four walls and a lid of thickness `wall`."""

    low: Point
    high: Point
    wall: float

    @property
    def bounds(self) -> tuple[Point, Point]:
        return self.low, self.high

    @property
    def thickness(self) -> float:
        return self.wall


@dataclass(frozen=True, kw_only=True)
class Revolved:
    """A body of revolution about a vertical axis through (x, y).

    Attributes
    ----------
    outline : tuple of (float, float)
        Closed polygon (r, z) in metres, z over the top plate, without a repeated last point.
    x, y : float
        Place of the axis, m.
    """

    outline: tuple[tuple[float, float], ...]
    x: float
    y: float

    @property
    def bounds(self) -> tuple[Point, Point]:
        r = max(r for r, _ in self.outline)
        heights = [z for _, z in self.outline]
        return (self.x - r, self.y - r, min(heights)), (self.x + r, self.y + r, max(heights))

    @property
    def thickness(self) -> float:
        low, high = self.bounds
        return min(high[0] - low[0], high[2] - low[2])


Plain: TypeAlias = Box | Cylinder | Cover | Revolved
Form: TypeAlias = Plain | Shaped


def plain(form: Form) -> Plain:
    """The form itself, or the box or rod about a form made of pieces, for formulas that know no others."""
    if not isinstance(form, Shaped):
        return form
    low, high = form.bounds
    if form.bar:
        return Box(low=low, high=high)
    sizes = [b - a for a, b in zip(low, high, strict=True)]
    along = max(range(3), key=lambda i: (abs(sizes[i] - sizes[i - 1]) + abs(sizes[i] - sizes[i - 2]), -i))
    base = [a if i == along else (a + b) / 2 for i, (a, b) in enumerate(zip(low, high, strict=True))]
    return Cylinder(base=(base[0], base[1], base[2]), along=along, length=sizes[along],
                    radius=max(s for i, s in enumerate(sizes) if i != along) / 2)


@dataclass(frozen=True, kw_only=True)
class SolidBody:
    """One body of one material.

    Attributes
    ----------
    name : str
        What messages call it, such as "pole 3, part 1" or "bar".
    material : str
        Name in the material table or among the case's own definitions.
    form : Box, Cylinder, Cover, Revolved or Shaped
    magnetisation : (float, float, float), optional
        Direction a magnet is magnetised in, of any length but 0. None: not a magnet.
    state : MagnetState
        What a magnet's grade has become.
    axis_at : (float, float), optional
        Place (x, y) of the axis of the pole that it is a part of, m, where its form does not have it.

    Raises
    ------
    CaseError
        For a form without volume or a direction without length.

    Examples
    --------
    >>> bar = SolidBody(name="bar", material="alnico-5", form=Box(low=(0, 0, 0), high=(3e-3, 60e-3, 12e-3)),
    ...                 magnetisation=(2, 0, 0))
    >>> bar.axis, bar.polarity
    ((1.0, 0.0, 0.0), 1)
    """

    name: str
    material: str
    form: Form
    magnetisation: Point | None = None
    state: MagnetState = AS_GRADED
    axis_at: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        if not self.form.thickness > 0.0:
            raise CaseError(f"{self.name}: it has no volume; give it a size above 0 in every direction")
        if self.magnetisation is not None and not 0.0 < hypot(*self.magnetisation) < inf:
            raise CaseError(f"{self.name}: the direction of magnetisation must have a length, got "
                            f"{self.magnetisation}; write for example [0, 0, 1] for up")

    @property
    def bare(self) -> SolidBody:
        """Its form of no material: what a mesh depends on."""
        return SolidBody(name=self.name, material="", form=self.form)

    @property
    def axis(self) -> Point:
        """Unit vector of the magnetisation, and the easy axis (up) of what is not magnetised."""
        x, y, z = (0.0, 0.0, 1.0) if self.magnetisation is None else self.magnetisation
        length = hypot(x, y, z)
        return x / length, y / length, z / length

    @property
    def polarity(self) -> int:
        """1 for a magnet, 0 for what is none."""
        return 0 if self.magnetisation is None else 1

    @property
    def stands_on(self) -> tuple[float, float] | None:
        """Place (x, y) of the axis of the pole that it is a part of, m; None for what is no part of one."""
        return (self.form.x, self.form.y) if isinstance(self.form, Revolved) else self.axis_at

    def moved(self, x: float, y: float, z: float) -> SolidBody:
        """The same body elsewhere."""
        at = None if self.axis_at is None else (self.axis_at[0] + x, self.axis_at[1] + y)
        return replace(self, form=_moved(self.form, (x, y, z)), axis_at=at)


def _moved(form: Form, by: Point) -> Form:
    def shift(p: Point) -> Point:
        return p[0] + by[0], p[1] + by[1], p[2] + by[2]

    if isinstance(form, Shaped):
        return form.moved(*by)
    if isinstance(form, Revolved):
        return Revolved(outline=tuple((r, z + by[2]) for r, z in form.outline), x=form.x + by[0], y=form.y + by[1])
    if isinstance(form, Cylinder):
        return replace(form, base=shift(form.base))
    return replace(form, low=shift(form.low), high=shift(form.high))
