"""What the solver sees of a pickup: bodies on the axes of a row, most of them of revolution, and a race-track coil.

Lengths in metres. x runs along the strings, y across them (along the row), z from the bobbin's top
plate (z = 0) up towards the strings. Inside a :class:`PoleShape` heights count from the pole's own face
(face at z = 0, body below), so that poles which differ only in height share one shape.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from typing import Literal, TypeAlias

from .magnet_state import AS_GRADED, MagnetState
from .pieces import Shaped
from .wound import WoundSection

SteelState: TypeAlias = Literal["played", "new", "curve"]
WRAP_GAP = 0.005
"""Clear space between turns of a wrap as a part of its pitch, where a case gives none. Published unit weights leave 0
to 1 % (tests/geometry/case/test_strings.py); turns that touch still have their roughness between them."""


@dataclass(frozen=True, kw_only=True)
class PartShape:
    """One body of revolution of one material.

    Attributes
    ----------
    material : str
        Name in the material table or among the case's own definitions.
    outline : tuple of (float, float)
        Closed polygon (r, z) in metres, r ≥ 0, without a repeated last point.
    polarity : int
        +1 magnetised with north towards the strings, −1 the other way, 0 not a magnet.
    state : MagnetState
        What a magnet's grade has become.
    """

    material: str
    outline: tuple[tuple[float, float], ...]
    polarity: int = 0
    state: MagnetState = AS_GRADED

    @property
    def axis(self) -> tuple[float, float]:
        """Direction (r, z) of the magnetisation, and the easy axis of what is not magnetised."""
        return 0.0, float(self.polarity or 1)

    @property
    def radius(self) -> float:
        return max(r for r, _ in self.outline)

    @property
    def top(self) -> float:
        return max(z for _, z in self.outline)

    @property
    def bottom(self) -> float:
        return min(z for _, z in self.outline)

    @property
    def size(self) -> str:
        """What it measures in words, mm: "∅ 4.8 × 17", or its form and its box along, across and up."""
        return f"∅ {2e3 * self.radius:.4g} × {1e3 * (self.top - self.bottom):.4g}"

    @property
    def along(self) -> tuple[float, float]:
        """From where to where it reaches along the strings, from the pole's axis, m."""
        return -self.radius, self.radius

    @property
    def across(self) -> tuple[float, float]:
        """The same across them."""
        return -self.radius, self.radius


@dataclass(frozen=True, kw_only=True)
class FormedShape(PartShape):
    """A part of any form, for the 3-D solver: its `outline` is that of the upright cylinder round it.

    Attributes
    ----------
    form : Shaped
        The part itself, in the pole's own axes.
    """

    form: Shaped

    @classmethod
    def of(cls, form: Shaped, *, material: str, polarity: int, state: MagnetState) -> FormedShape:
        """With the cylinder about its box."""
        (x0, y0, low), (x1, y1, high) = form.bounds
        radius = round(hypot(max(-x0, x1), max(-y0, y1)), 12)
        outline = ((0.0, low), (radius, low), (radius, high), (0.0, high))
        return cls(material=material, outline=outline, polarity=polarity, state=state, form=form)

    @property
    def size(self) -> str:
        x, y, z = (f"{1e3 * (b - a):.4g}" for a, b in zip(*self.form.bounds, strict=True))
        return f"{self.form.kind} {x} × {y} × {z}"

    @property
    def along(self) -> tuple[float, float]:
        return self.form.bounds[0][0], self.form.bounds[1][0]

    @property
    def across(self) -> tuple[float, float]:
        return self.form.bounds[0][1], self.form.bounds[1][1]


@dataclass(frozen=True, kw_only=True)
class PoleShape:
    """A stack of parts from the face (z = 0) downwards. Hashable: equal poles share their cells."""

    parts: tuple[PartShape, ...]

    @property
    def is_round(self) -> bool:
        """Whether all of it are bodies of revolution on its axis."""
        return not any(isinstance(p, FormedShape) for p in self.parts)

    @property
    def radius(self) -> float:
        return max(p.radius for p in self.parts)

    @property
    def top(self) -> float:
        return max(p.top for p in self.parts)

    @property
    def bottom(self) -> float:
        return min(p.bottom for p in self.parts)


@dataclass(frozen=True, kw_only=True)
class PlacedPole:
    """A pole shape at its place in the row: axis at (0, y), face at height `face`."""

    y: float
    face: float
    shape: PoleShape

    @property
    def radius(self) -> float:
        """Of the part that bears the face."""
        return self.shape.parts[0].radius


@dataclass(frozen=True, kw_only=True)
class Racetrack(WoundSection):
    """A winding that starts on a stadium curve, straight sides along y, centred on (x_centre, y_centre).

    Attributes
    ----------
    inner_radius : float
        Radius of the half-circle ends of the inner curve (half the inner width).
    straight : float
        Length of the straight sides; 0 makes a round coil.
    build : float
        Radial thickness of the winding; the greatest one where `builds` say more.
    bottom, top, builds
        As :class:`.WoundSection` has them.
    turns : float
        Number of turns, at least 1.
    sense : int
        +1 counter-clockwise seen from the strings, −1 clockwise.
    """

    inner_radius: float
    straight: float
    turns: float
    sense: int = 1
    y_centre: float = 0.0
    x_centre: float = 0.0

    @property
    def mean_radius(self) -> float:
        """Of the round ends of the mean turn, m."""
        return self.inner_radius + self.mean_distance

    @property
    def bounds(self) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
        """Least and greatest x, y, z of the winding, m."""
        r, half = self.inner_radius + self.build, self.straight / 2
        return ((self.x_centre - r, self.y_centre - (r + half), self.bottom),
                (self.x_centre + r, self.y_centre + (r + half), self.top))

    @property
    def inner_bounds(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Least and greatest x, y of its inner face, m."""
        r, half = self.inner_radius, self.straight / 2
        return (self.x_centre - r, self.y_centre - (r + half)), (self.x_centre + r, self.y_centre + (r + half))

    def is_its_image(self, axis: int) -> bool:
        """Whether the plane x = 0 (axis 0) or y = 0 (1) halves it."""
        return abs((self.x_centre, self.y_centre)[axis]) < 1e-9

    def goes_round(self, x: float, y: float) -> bool:
        """Whether a place lies within the box about its inner face."""
        return (abs(x - self.x_centre) < self.inner_radius
                and abs(y - self.y_centre) < self.straight / 2 + self.inner_radius)


@dataclass(frozen=True, kw_only=True)
class StringShape:
    """A string as the solver sees it, at rest.

    Attributes
    ----------
    y : float
        Position across the row.
    axis_height : float
        Height of the string's axis over the top plate, above the row's line x = 0.
    core_radius : float
        Radius of the solid (core) wire.
    wrap_diameter : float
        Diameter of the wrap wire; 0 for a plain string.
    steel, wrap : str
        Names of string materials; `wrap` is "" for a plain string.
    slope : float
        dz/dx of the string at rest.
    state : {"played", "new", "curve"}
        Whether playing has shaken its steel, or it was only put in place; or it has no memory and follows one curve.
    pinning : float
        How strongly the walls in its metals are held, over what their materials say.
    """

    y: float
    axis_height: float
    core_radius: float
    wrap_diameter: float = 0.0
    wrap_gap: float = WRAP_GAP
    steel: str = "string-steel"
    wrap: str = ""
    slope: float = 0.0
    state: SteelState = "played"
    pinning: float = 1.0

    @property
    def outer_radius(self) -> float:
        return self.core_radius + self.wrap_diameter
