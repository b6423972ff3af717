"""What the planar solver sees of a build: long bars across the strings as polygons in (x, z), and a coil's two sides.

Lengths in metres. The section lies in the plane y = const: x runs along the strings, z up from the bobbin's top
plate. Bars and coil sides are endless along y here; their true length comes in afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot, inf

from ..errors import CaseError
from .magnet_state import AS_GRADED, MagnetState
from .wound import WoundSection

_SAME = 1e-9  # metres, and of a unit vector: what counts as a mirror image


@dataclass(frozen=True, kw_only=True)
class PlanePart:
    """One bar of one material.

    Attributes
    ----------
    material : str
        Name in the material table or among the case's own definitions.
    outline : tuple of (float, float)
        Closed polygon (x, z) in metres, without a repeated last point.
    magnetisation : (float, float), optional
        Direction (x, z) in which a magnet is magnetised: (0, 1) up, (1, 0) along the strings; any length but 0.
        None: not a magnet.
    state : MagnetState
        What a magnet's grade has become.

    Raises
    ------
    CaseError
        For an outline without area or a direction of no length.

    Examples
    --------
    >>> bar = PlanePart(material="alnico-5", outline=box(0, 4e-3, 0, 2e-3), magnetisation=(3, 4))
    >>> bar.axis, round(1e6 * bar.area, 9)
    ((0.6, 0.8), 8.0)
    """

    material: str
    outline: tuple[tuple[float, float], ...]
    magnetisation: tuple[float, float] | None = None
    state: MagnetState = AS_GRADED

    def __post_init__(self) -> None:
        if len(self.outline) < 3 or not self.area > 0.0:
            raise CaseError(f"bar of {self.material!r}: the outline must enclose an area, got {self.outline}")
        if self.magnetisation is not None and not 0.0 < hypot(*self.magnetisation) < inf:
            raise CaseError(f"bar of {self.material!r}: the direction of magnetisation must have a length, "
                            f"got {self.magnetisation}; write for example (0, 1) for up")

    @property
    def axis(self) -> tuple[float, float]:
        """Unit vector (x, z) of the magnetisation, and the easy axis of what is not magnetised."""
        x, z = (0.0, 1.0) if self.magnetisation is None else self.magnetisation
        length = hypot(x, z)
        return x / length, z / length

    @property
    def polarity(self) -> int:
        """1 for a magnet, 0 for what is none."""
        return 0 if self.magnetisation is None else 1

    @property
    def area(self) -> float:
        """Of the section, m²."""
        return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in self.edges)) / 2

    @property
    def thickness(self) -> float:
        """Twice the area over the perimeter, m: about the width of a thin bar, half the side of a square."""
        return 2 * self.area / sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in self.edges)

    @property
    def edges(self) -> tuple[tuple[tuple[float, float], tuple[float, float]], ...]:
        return tuple(zip(self.outline, (*self.outline[1:], self.outline[0]), strict=True))


@dataclass(frozen=True, kw_only=True)
class PlaneShape:
    """The bars of a section. Hashable: equal sections share their meshes."""

    parts: tuple[PlanePart, ...]

    def __post_init__(self) -> None:
        if not self.parts:
            raise CaseError("section: it must hold at least one bar, got none")

    @property
    def left(self) -> float:
        return min(x for p in self.parts for x, _ in p.outline)

    @property
    def right(self) -> float:
        return max(x for p in self.parts for x, _ in p.outline)

    @property
    def bottom(self) -> float:
        return min(z for p in self.parts for _, z in p.outline)

    @property
    def top(self) -> float:
        return max(z for p in self.parts for _, z in p.outline)

    @property
    def radius(self) -> float:
        """Largest distance from x = 0."""
        return max(self.right, -self.left)

    @property
    def parity(self) -> int:
        """Symmetry of A_y of the magnets under x → −x: −1 odd (B_z even), +1 even, 0 none.

        Odd: magnets up in the middle, or two that face each other across a blade. Even: magnetised along the
        strings. A section without magnets counts as odd.
        """
        return next((p for p in (-1, 1) if self._is_mirrored(p)), 0)

    @property
    def right_side(self) -> PlaneShape:
        """Only the parts that reach to x > 0: what half a section holds."""
        return PlaneShape(parts=tuple(p for p in self.parts if max(x for x, _ in p.outline) > _SAME))

    def _is_mirrored(self, parity: int) -> bool:
        images = [_image(part, parity) for part in self.parts]
        return all(any(_same(image, part) for part in self.parts) for image in images)


@dataclass(frozen=True, kw_only=True)
class CoilSides(WoundSection):
    """The two straight sides of a race-track coil in the section, −J at x < centre, +J (along y) at x > centre.

    So a coil of positive turns makes B upwards between its sides, like a race-track of sense +1.

    Attributes
    ----------
    inner : float
        Half the width of the window, m.
    build : float
        Width of the winding of each side, m; the greatest one where `builds` say more.
    bottom, top, builds
        As :class:`.WoundSection` has them.
    turns : float
        Number of turns; negative for a coil wound clockwise.
    centre : float
        x of its middle, m.
    """

    inner: float
    turns: float = 1.0
    centre: float = 0.0

    def outline(self, side: int) -> tuple[tuple[float, float], ...]:
        """The polygon of one side (+1 or −1), anticlockwise; a rectangle from its lower left corner on."""
        if not self.builds:
            a, b = sorted((self.centre + side * self.inner, self.centre + side * (self.inner + self.build)))
            return (a, self.bottom), (b, self.bottom), (b, self.top), (a, self.top)
        around = [(self.centre + side * (self.inner + w), z) for w, z in self.corners]
        return tuple(around if side > 0 else reversed(around))


def box(x0: float, x1: float, z0: float, z1: float) -> tuple[tuple[float, float], ...]:
    """Outline of a rectangle."""
    return (x0, z0), (x1, z0), (x1, z1), (x0, z1)


def _image(part: PlanePart, parity: int) -> PlanePart:
    """Mirror image in x = 0 that keeps A_y (parity 1) or turns its sign (−1)."""
    m = part.magnetisation
    return replace(part, outline=tuple((-x, z) for x, z in part.outline),
                   magnetisation=None if m is None else (parity * m[0], -parity * m[1]))


def _same(a: PlanePart, b: PlanePart) -> bool:
    if (a.material, a.polarity, a.state) != (b.material, b.polarity, b.state):
        return False
    if a.polarity and hypot(a.axis[0] - b.axis[0], a.axis[1] - b.axis[1]) > _SAME:
        return False
    return len(a.outline) == len(b.outline) and all(
        any(hypot(p[0] - q[0], p[1] - q[1]) < _SAME for q in b.outline) for p in a.outline)
