r"""Closed outlines of straight sides and arcs, in a plane.

A corner (u, v, b) is a place in metres and the bulge b of the side that begins there: b = tan(θ/4) for an arc that
turns by θ, counter-clockwise where b > 0, and 0 for a straight side, as polylines of DXF have it. With the chord c an
arc has the radius r = c (1 + b²)/(4|b|), and its segment the area r²/2 (θ − sin θ).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import TypeAlias

from ..errors import CaseError
from ..units import mm

Loop: TypeAlias = tuple[tuple[float, float, float], ...]
Place: TypeAlias = tuple[float, float]

_TOUCH = 1e-9  # m
_PIECES = 24  # straight ones in place of a quarter of a circle, where outlines are compared


def polygon(points: Sequence[Place]) -> Loop:
    """Straight sides through the points; the last may repeat the first."""
    kept = points[:-1] if len(points) > 1 and math.dist(points[0], points[-1]) < _TOUCH else points
    return tuple((u, v, 0.0) for u, v in kept)


def circle(centre: Place, radius: float) -> Loop:
    """Two half circles, counter-clockwise."""
    u, v = centre
    return (u - radius, v, 1.0), (u + radius, v, 1.0)


def rounded(loop: Loop, radius: float | Sequence[float]) -> Loop:
    """The loop with arcs in place of its corners between straight sides; with radii one for each, 0 for a sharp one.

    Raises
    ------
    CaseError
        Where two arcs do not find room on one side.

    Examples
    --------
    A square of 2 mm with corners of 0.5 mm loses (4 − π) 0.25 mm²:

    >>> square = rounded(polygon([(0, 0), (2e-3, 0), (2e-3, 2e-3), (0, 2e-3)]), 0.5e-3)
    >>> round(1e6 * area(square), 6)
    3.785398
    """
    n = len(loop)
    radii = [radius] * n if isinstance(radius, float | int) else list(radius)
    taken, out = [0.0] * n, list[tuple[float, float, float]]()
    for i, (u, v, bulge) in enumerate(loop):
        before, after = loop[i - 1], loop[(i + 1) % n]
        a, b = math.dist(before[:2], (u, v)), math.dist(after[:2], (u, v))
        turn = _turn(before[:2], (u, v), after[:2])
        if bulge or before[2] or abs(turn) < 1e-6 or not radii[i]:
            out.append((u, v, bulge))
            continue
        cut = radii[i] * math.tan(abs(turn) / 2)
        taken[i - 1] += cut
        taken[i] += cut
        to = [(w - x) * cut / a for w, x in zip((u, v), before[:2], strict=True)]
        on = [(w - x) * cut / b for w, x in zip(after[:2], (u, v), strict=True)]
        out += [(u - to[0], v - to[1], math.tan(turn / 4)), (u + on[0], v + on[1], 0.0)]
    for i, used in enumerate(taken):
        side = math.dist(loop[i][:2], loop[(i + 1) % n][:2])
        if used > side + _TOUCH:
            raise CaseError(f"received {mm(max(radii[i], radii[(i + 1) % n]))}, and the side from point {i + 1} to "
                            f"{(i + 1) % n + 1}, {mm(side)} long, has no room for it; write less")
    return _without_repeats(out)


def _without_repeats(corners: Sequence[tuple[float, float, float]]) -> Loop:
    """Without sides of no length, which are left where two arcs meet."""
    n = len(corners)
    return tuple(c for i, c in enumerate(corners) if c[2] or math.dist(c[:2], corners[(i + 1) % n][:2]) > _TOUCH)


def _turn(a: Place, b: Place, c: Place) -> float:
    """By how much a path turns left at b, rad."""
    before, after = (b[0] - a[0], b[1] - a[1]), (c[0] - b[0], c[1] - b[1])
    cross = before[0] * after[1] - before[1] * after[0]
    return math.atan2(cross, before[0] * after[0] + before[1] * after[1])


def area(loop: Loop) -> float:
    """Of what it goes round, m²; below 0 where it runs clockwise."""
    total = 0.0
    for (u, v, b), (p, q, _) in sides(loop):
        total += (u * q - p * v) / 2
        if b:
            angle = 4 * math.atan(b)
            radius = math.dist((u, v), (p, q)) / (2 * math.sin(angle / 2))
            total += radius**2 / 2 * (angle - math.sin(angle))
    return total


def sides(loop: Loop) -> Iterator[tuple[tuple[float, float, float], tuple[float, float, float]]]:
    """Both ends of every side."""
    yield from zip(loop, (*loop[1:], loop[0]), strict=True)


def middle(a: tuple[float, float, float], b: tuple[float, float, float]) -> Place:
    """The point half way along a side."""
    (u, v, bulge), (p, q, _) = a, b
    return (u + p) / 2 + bulge * (q - v) / 2, (v + q) / 2 - bulge * (p - u) / 2


def flattened(loop: Loop, pieces: int = _PIECES) -> list[Place]:
    """Points on it, arcs as chords: `pieces` to a quarter of a circle."""
    out: list[Place] = []
    for a, b in sides(loop):
        (u, v, bulge), (p, q, _) = a, b
        out.append((u, v))
        if bulge:
            angle = 4 * math.atan(bulge)
            half = math.dist((u, v), (p, q)) / 2
            off = half / math.tan(angle / 2)  # from the chord to the centre, to its left
            cu = (u + p) / 2 - off * (q - v) / (2 * half)
            cv = (v + q) / 2 + off * (p - u) / (2 * half)
            n = max(1, math.ceil(pieces * abs(angle) / (math.pi / 2)))
            for k in range(1, n):
                c, s = math.cos(k * angle / n), math.sin(k * angle / n)
                out.append((cu + c * (u - cu) - s * (v - cv), cv + s * (u - cu) + c * (v - cv)))
    return out


def check_outline(loop: Loop, where: str) -> None:
    """Three corners or more, none of them twice, and no two sides that cross or touch.

    Raises
    ------
    CaseError
        Which begins with `where`, the key.
    """
    if len(loop) < 3 and not any(b for *_, b in loop):
        raise CaseError(f"{where}: received {len(loop)} points; write three or more")
    for i, (a, b) in enumerate(sides(loop), start=1):
        if math.dist(a[:2], b[:2]) < _TOUCH:
            raise CaseError(f"{where}: points {i} and {i % len(loop) + 1} are the same; leave one of them out")
    points = flattened(loop)
    if crossing := _crossing(points, points, same=True):
        raise CaseError(f"{where}: it crosses or touches itself near {_at(crossing)}; write its points in order "
                        "round the outline")
    if abs(area(loop)) < _TOUCH * sum(math.dist(p, q) for p, q in pairwise([*points, points[0]])):
        raise CaseError(f"{where}: its points lie on one line; write an outline that goes round something")


def check_holes(outer: Loop, holes: Sequence[Loop], where: str) -> None:
    """Every hole lies within the outline, and clear of the others.

    Raises
    ------
    CaseError
        Which begins with `where`, the key.
    """
    rim = flattened(outer)
    for i, hole in enumerate(holes, start=1):
        edge = flattened(hole)
        if _crossing(rim, edge) or not within(edge[0], rim):
            raise CaseError(f"{where} {i}: it does not lie within the outline; move it, or make it smaller")
        for j, other in enumerate(holes[: i - 1], start=1):
            beside = flattened(other)
            if _crossing(beside, edge) or within(edge[0], beside) or within(beside[0], edge):
                raise CaseError(f"{where} {i}: it runs into hole {j}; move one of them")


def within(point: Place, loop: Sequence[Place]) -> bool:
    """Whether a point lies inside a polygon (even-odd rule)."""
    u, v = point
    inside = False
    for (a, b), (c, d) in zip(loop, (*loop[1:], loop[0]), strict=True):
        if (b > v) != (d > v) and u < a + (v - b) * (c - a) / (d - b):
            inside = not inside
    return inside


def _crossing(first: Sequence[Place], second: Sequence[Place], *, same: bool = False) -> Place | None:
    """Where two closed polygons cross or touch; of one with itself, sides that do not follow each other."""
    n = len(first)
    for i in range(n):
        a, b = first[i], first[(i + 1) % n]
        low_u, high_u, low_v, high_v = min(a[0], b[0]), max(a[0], b[0]), min(a[1], b[1]), max(a[1], b[1])
        for j in range(i + 1 if same else 0, len(second)):
            c, d = second[j], second[(j + 1) % len(second)]
            if (max(c[0], d[0]) < low_u or min(c[0], d[0]) > high_u or max(c[1], d[1]) < low_v
                    or min(c[1], d[1]) > high_v):
                continue
            if same and j in (i + 1, (i - 1) % n):
                shared, e, f = (b, a, d) if j == i + 1 else (a, b, c)
                back = (e[0] - shared[0]) * (f[0] - shared[0]) + (e[1] - shared[1]) * (f[1] - shared[1])
                if back > 0 and abs(_cross(shared, e, f)) < _TOUCH * math.dist(shared, e):
                    return shared  # it turns back on itself
                continue
            if _cross(a, b, c) * _cross(a, b, d) <= 0 and _cross(c, d, a) * _cross(c, d, b) <= 0:
                return c if _cross(a, b, c) == 0 else a
    return None


def _cross(a: Place, b: Place, c: Place) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _at(point: Place) -> str:
    return f"[{mm(round(point[0], 6))}, {mm(round(point[1], 6))}]"
