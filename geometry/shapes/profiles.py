"""Tip profiles as half sections.

An edge is the upper surface of a body from the axis to its rim, as points (r, z) in metres with the highest
point at z = 0. `outline` closes it to the section of a body of a given length. Spherical surfaces are
inscribed polylines of `ARC_SEGMENTS` pieces; a cap of 24 pieces is 0.1 % short of the sphere's volume.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

Point = tuple[float, float]
Edge = tuple[Point, ...]

ARC_SEGMENTS = 24


def flat(radius: float) -> Edge:
    """A plane face."""
    return ((0.0, 0.0), (radius, 0.0))


def bevelled(radius: float, *, depth: float, width: float) -> Edge:
    """A plane face whose edge is cut off over `width` in r and `depth` in z."""
    return ((0.0, 0.0), (radius - width, 0.0), (radius, -depth))


def domed(radius: float, *, rise: float) -> Edge:
    """A spherical cap that stands `rise` above its rim."""
    return tuple((r, -d) for r, d in _arc(radius, rise))


def cupped(radius: float, *, depth: float) -> Edge:
    """A spherical hollow, `depth` below the rim on the axis."""
    return tuple((r, d - depth) for r, d in _arc(radius, depth))


def polyline(points: Sequence[Point]) -> Edge:
    """An edge of one's own, shifted so that its highest point is the face."""
    top = max(z for _, z in points)
    return tuple((r, z - top) for r, z in points)


def _arc(radius: float, sagitta: float) -> Edge:
    """(r, drop below the pole of the sphere) for a cap of rim radius `radius`."""
    sphere = (radius**2 + sagitta**2) / (2 * sagitta)
    end = 2 * math.atan2(sagitta, radius)
    angles = [end * i / ARC_SEGMENTS for i in range(ARC_SEGMENTS)]
    # 1 − cos written so that a shallow cap does not lose its digits
    inner = tuple((sphere * math.sin(a), 2 * sphere * math.sin(a / 2) ** 2) for a in angles)
    return (*inner, (radius, sagitta))


def outline(edge: Edge, *, length: float, top: float = 0.0) -> tuple[Point, ...]:
    """Closed section of a body of revolution, counter-clockwise in (r, z), without a repeated last point.

    Parameters
    ----------
    edge : sequence of (float, float)
        Upper surface from the axis outwards, highest point at z = 0.
    length : float
        From the highest point to the plane bottom, m.
    top : float
        Height at which the highest point is put, m.
    """
    rim = edge[-1][0]
    points = [(0.0, -length), (rim, -length), *reversed(edge)]
    # picometres: equal poles must come out equal to the last digit, they share their cells
    return tuple((round(r, 12), round(z + top, 12)) for r, z in points)


def volume(section: Sequence[Point]) -> float:
    """Volume of the body of revolution of a closed section (Pappus over its triangles), m³."""
    total = 0.0
    for (r0, z0), (r1, z1) in zip(section, [*section[1:], section[0]], strict=True):
        total += (r0 * z1 - r1 * z0) * (r0 + r1)
    return math.pi / 3 * total
