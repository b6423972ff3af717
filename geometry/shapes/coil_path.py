r"""A winding on a closed path of straight and round pieces, other than a race-track.

The inner face stands on a closed line that runs counter-clockwise; the winding lies to its right, u from it. Where
the line turns left by the angle α with the radius r, turns run round at r + u, at a sharp corner at u; where it turns
right, at r − u, so that r has to be the winding's thickness or more. A closed line turns left by 2π in all, so with
its length ℓ and area a the turn at u has

    ℓ(u) = ℓ + 2π u,     a(u) = a + ℓ u + π u²

References
----------
Length and area of parallel lines: J. Steiner, 1840 (memory); derived here for lines that turn right as well.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from ..errors import CaseError
from ..units import mm
from .loops import Loop, Place, area, check_outline, flattened, middle, polygon, rounded, sides, within
from .row import Racetrack

_STRAIGHT = 1e-9  # rad: what turns less runs straight on
_SAME = 1e-9  # m


@dataclass(frozen=True, kw_only=True)
class PathPiece:
    """A straight or a round piece of the inner face, seen from above.

    Attributes
    ----------
    start : (float, float)
        x, y where it begins, m.
    way : (float, float)
        Direction there.
    length : float
        Of a straight piece, m; 0 of a round one.
    radius : float
        Of a round one, m; 0 in a sharp corner.
    turn : float
        By how much a round one turns left, rad; below 0 to the right.
    """

    start: Place
    way: Place
    length: float = 0.0
    radius: float = 0.0
    turn: float = 0.0

    @property
    def outwards(self) -> Place:
        """Towards the winding, at the start."""
        return self.way[1], -self.way[0]

    @property
    def centre(self) -> Place:
        """Of a round piece."""
        (x, y), (u, v), r = self.start, self.outwards, math.copysign(self.radius, self.turn)
        return x - r * u, y - r * v


@dataclass(frozen=True, kw_only=True)
class PathCoil(Racetrack):
    """A winding on a path of its own; `inner_radius` and `straight` are those of a race-track whose turns are as
    long.

    Attributes
    ----------
    inner : Loop
        The inner face, counter-clockwise, corners from (x_centre, y_centre).
    """

    inner: Loop

    @property
    def pieces(self) -> tuple[PathPiece, ...]:
        """Of the inner face in the axes of the case, in order round it."""
        return _pieces(self.inner, self.x_centre, self.y_centre)

    def outline(self, u: float) -> list[Place]:
        """Points on the line at a distance outwards from the inner face, in order round it, m."""
        return flattened(self.edge(u))

    def edge(self, u: float) -> Loop:
        """The line at a distance outwards from the inner face, in the axes of the case."""
        out = []
        for p in self.pieces:
            (x, y), (a, b) = p.start, p.outwards
            runs = p.length if not p.turn else p.radius + math.copysign(u, p.turn)
            if abs(runs) > _SAME:
                out.append((x + u * a, y + u * b, math.tan(p.turn / 4)))
        return tuple(out)

    @property
    def bounds(self) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
        (x0, y0), (x1, y1) = _extent(self.edge(self.build))
        return (x0, y0, self.bottom), (x1, y1, self.top)

    @property
    def inner_bounds(self) -> tuple[Place, Place]:
        return _extent(self.edge(0.0))

    def is_its_image(self, axis: int) -> bool:
        lines = [_marks(loop) for loop in (self.edge(0.0), self.edge(self.build))]
        return all(all(any(math.dist(_flip(p, axis), q) < 1e-8 for q in marks) for p in marks) for marks in lines)

    def goes_round(self, x: float, y: float) -> bool:
        return within((x, y), self.outline(0.0))


def path_coil(corners: Sequence[Place], radii: Sequence[float], *, build: float, bottom: float, top: float,
              turns: float, sense: int = 1, x: float = 0.0, y: float = 0.0) -> PathCoil:
    """A winding about (x, y) whose inner face has these corners, m, rounded by these radii, in either order round it.

    Raises
    ------
    CaseError
        Where the path crosses itself, or the winding finds no room beside it; the sentence begins with the key.

    Examples
    --------
    A square of 10 mm with sharp corners, wound 2 mm thick: 4 times 10 mm and a circle of 1 mm radius.

    >>> square = [(-5e-3, -5e-3), (5e-3, -5e-3), (5e-3, 5e-3), (-5e-3, 5e-3)]
    >>> coil = path_coil(square, [0.0] * 4, build=2e-3, bottom=0.0, top=3e-3, turns=100)
    >>> round(1e3 * (2 * coil.straight + 2 * math.pi * coil.mean_radius), 3)
    46.283
    """
    return _path_coil(tuple(corners), tuple(radii), build, bottom, top, turns, sense, x, y)


@lru_cache(maxsize=64)
def _path_coil(corners: tuple[Place, ...], radii: tuple[float, ...], build: float, bottom: float, top: float,
               turns: float, sense: int, x: float, y: float) -> PathCoil:
    loop, own = polygon(corners), list(radii)
    check_outline(loop, "path")
    if area(loop) < 0:
        loop, own = loop[::-1], own[::-1]
    try:
        inner = rounded(loop, own)
    except CaseError as error:
        raise CaseError(f"corner: {error}") from None
    check_outline(inner, "corner")
    for p in _pieces(inner, 0.0, 0.0):
        if p.turn < 0 and p.radius < build - _SAME:
            raise CaseError(f"path: near [{mm(round(p.start[0], 6))}, {mm(round(p.start[1], 6))}] it turns inwards "
                            f"with a radius of {mm(round(p.radius, 6))}, and a winding {mm(build)} thick finds no "
                            f"room there; write a corner of {mm(build)} or more, or wind less")
    length = sum(p.length + p.radius * abs(p.turn) for p in _pieces(inner, 0.0, 0.0))
    (x0, y0), (x1, y1) = _extent(inner)
    radius = min(x1 - x0, y1 - y0) / 2
    coil = PathCoil(inner=inner, inner_radius=radius, straight=round(max(length / 2 - math.pi * radius, 0.0), 15),
                    build=build, bottom=bottom, top=top, turns=turns, sense=sense, x_centre=x, y_centre=y)
    check_outline(coil.edge(build), "build: the outer edge of the winding")
    return coil


@lru_cache(maxsize=64)
def _pieces(inner: Loop, x: float, y: float) -> tuple[PathPiece, ...]:
    ends = [_directions(a, b) for a, b in sides(inner)]
    out: list[PathPiece] = []
    for i, (a, b) in enumerate(sides(inner)):
        first, before = ends[i][0], ends[i - 1][1]
        corner = math.atan2(before[0] * first[1] - before[1] * first[0], before[0] * first[0] + before[1] * first[1])
        start, chord = (a[0] + x, a[1] + y), math.dist(a[:2], b[:2])
        if abs(corner) > 1e-7:
            out.append(PathPiece(start=start, way=before, turn=corner))
        turn = 4 * math.atan(a[2])
        if abs(turn) > _STRAIGHT:
            out.append(PathPiece(start=start, way=first, radius=chord / (2 * abs(math.sin(turn / 2))), turn=turn))
        else:
            out.append(PathPiece(start=start, way=first, length=chord))
    return tuple(out)


def _directions(a: tuple[float, float, float], b: tuple[float, float, float]) -> tuple[Place, Place]:
    """At the beginning and at the end of a side."""
    chord, half = math.atan2(b[1] - a[1], b[0] - a[0]), 2 * math.atan(a[2])
    return ((math.cos(chord - half), math.sin(chord - half)), (math.cos(chord + half), math.sin(chord + half)))


def _extent(loop: Loop) -> tuple[Place, Place]:
    """Least and greatest x and y, arcs too."""
    points = [(u, v) for u, v, _ in loop]
    for a, b in sides(loop):
        turn = 4 * math.atan(a[2])
        if not turn:
            continue
        (first, _), chord = _directions(a, b), math.dist(a[:2], b[:2])
        r = chord / (2 * math.sin(turn / 2))  # below 0 of one that turns right
        centre = a[0] - r * first[1], a[1] + r * first[0]
        begin = math.atan2(a[1] - centre[1], a[0] - centre[0])
        for k in range(4):
            off = (k * math.pi / 2 - begin) % (2 * math.pi)
            if off <= turn or off - 2 * math.pi >= turn:
                points.append((centre[0] + abs(r) * math.cos(k * math.pi / 2),
                               centre[1] + abs(r) * math.sin(k * math.pi / 2)))
    return ((min(p[0] for p in points), min(p[1] for p in points)),
            (max(p[0] for p in points), max(p[1] for p in points)))


def _marks(loop: Loop) -> list[Place]:
    """Corners and middles of sides: what tells a closed line from others."""
    return [p for a, b in sides(loop) for p in ((a[0], a[1]), middle(a, b))]


def _flip(p: Place, axis: int) -> Place:
    return (-p[0], p[1]) if axis == 0 else (p[0], -p[1])
