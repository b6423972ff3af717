"""What a plane across the row (y = y0) cuts of a build: closed outlines in x and z, m.

A body of revolution whose axis is d away from the plane shows the half width √(r² − d²) where its radius is r.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.kernel.views import section
from stringflux.geometry.shapes.bodies import Cover, Cylinder, Form, Plain, Revolved
from stringflux.geometry.shapes.coil_path import PathCoil
from stringflux.geometry.shapes.loops import within
from stringflux.geometry.shapes.pieces import Shaped
from stringflux.geometry.shapes.row import Racetrack

_STEPS = 24  # along each edge of an outline, and round a quarter of a circle


def body_outlines(form: Form, y: float) -> tuple[Array, ...]:
    """Closed polygons (2, n) of a body in the plane, without a repeated last point; a hole is joined to its rim by a
    cut of no width."""
    if isinstance(form, Shaped):
        return _with_holes(section(form, 1, y))
    outline = body_outline(form, y)
    return () if outline is None else (outline,)


def _with_holes(loops: tuple[Array, ...]) -> tuple[Array, ...]:
    """Loops (n, 2), outer ones counter-clockwise and holes clockwise, as polygons (2, n) without holes."""
    areas = [float(np.sum(p[:, 0] * np.roll(p[:, 1], -1) - np.roll(p[:, 0], -1) * p[:, 1])) / 2 for p in loops]
    outer = [p for p, a in zip(loops, areas, strict=True) if a > 0]
    for hole in (p for p, a in zip(loops, areas, strict=True) if a < 0):
        k = next((k for k, rim in enumerate(outer) if within(tuple(hole[0]), [tuple(p) for p in rim])), None)
        if k is None:
            continue
        apart = np.linalg.norm(outer[k][:, None] - hole[None], axis=2)
        i, j = np.unravel_index(int(np.argmin(apart)), apart.shape)
        outer[k] = np.concatenate([outer[k][:i + 1], hole[j:], hole[:j + 1], outer[k][i:]])
    return tuple(p.T for p in outer)


def body_outline(form: Plain, y: float) -> Array | None:
    """Closed polygon (2, n) of a body in the plane, without a repeated last point; None if it is not cut."""
    low, high = form.bounds
    if not low[1] < y < high[1]:
        return None
    if isinstance(form, Revolved):
        return _revolved(form, y - form.y)
    if isinstance(form, Cylinder):
        return _cylinder(form, y)
    if isinstance(form, Cover) and low[1] + form.wall < y < high[1] - form.wall:
        inner = low[0] + form.wall, high[0] - form.wall
        lid = high[2] - form.wall
        return np.array([(low[0], low[2]), (low[0], high[2]), (high[0], high[2]), (high[0], low[2]),
                         (inner[1], low[2]), (inner[1], lid), (inner[0], lid), (inner[0], low[2])]).T
    return _rectangle(low[0], high[0], low[2], high[2])


def winding_outlines(coil: Racetrack, y: float) -> tuple[Array, ...]:
    """Polygons (2, n) of a coil in the plane: two sides, one piece beyond the hole, or nothing."""
    if isinstance(coil, PathCoil):
        return tuple(_rectangle(a, b, coil.bottom, coil.top) for a, b in _spans(coil, y))
    beyond = max(0.0, abs(y - coil.y_centre) - coil.straight / 2)
    if coil.builds:
        return tuple(_changing(coil, beyond))
    inner, outer = coil.inner_radius, coil.inner_radius + coil.build
    if beyond >= outer:
        return ()
    far = float(np.sqrt(outer**2 - beyond**2))
    if beyond >= inner:
        return (_rectangle(coil.x_centre - far, coil.x_centre + far, coil.bottom, coil.top),)
    near = float(np.sqrt(inner**2 - beyond**2))
    return tuple(_rectangle(coil.x_centre + a, coil.x_centre + b, coil.bottom, coil.top)
                 for a, b in ((-far, -near), (near, far)))


def _spans(coil: PathCoil, y: float) -> Iterator[tuple[float, float]]:
    """Where a line at y lies in a winding on a path of its own, from x to x."""
    cuts = []
    for u in (0.0, coil.build):
        points = coil.outline(u)
        for (a, b), (c, d) in zip(points, (*points[1:], points[0]), strict=True):
            if (b > y) != (d > y):
                cuts.append((a + (y - b) * (c - a) / (d - b), u == 0.0))
    outer = inner = False
    begun = 0.0
    for x, is_inner in sorted(cuts):
        before = outer and not inner
        outer, inner = (outer, not inner) if is_inner else (not outer, inner)
        if before and x > begun:
            yield begun, x
        begun = x


def _changing(coil: Racetrack, beyond: float) -> Iterator[Array]:
    """The same of a winding whose thickness changes along its height."""
    z = np.unique(np.concatenate([np.linspace(low, high, _STEPS + 1) for low, high, _, _ in coil.slices]))
    outer = coil.inner_radius + np.array([coil.build_at(float(at)) for at in z])
    cut = np.flatnonzero(outer > beyond)
    far = np.sqrt(np.maximum(outer**2 - beyond**2, 0.0))
    near = np.full(z.size, np.sqrt(max(coil.inner_radius**2 - beyond**2, 0.0)))
    for piece in np.split(cut, np.flatnonzero(np.diff(cut) > 1) + 1):  # a waisted one may be cut in two
        if piece.size < 2:
            continue
        height, whole = np.concatenate([z[piece], z[piece][::-1]]), beyond >= coil.inner_radius
        back = -far[piece][::-1] if whole else near[piece][::-1]
        edge = np.concatenate([far[piece], back])
        for side in (1.0,) if whole else (-1.0, 1.0):
            yield np.stack([coil.x_centre + side * edge, height])


def _rectangle(left: float, right: float, bottom: float, top: float) -> Array:
    return np.array([(left, bottom), (left, top), (right, top), (right, bottom)]).T


def _cylinder(form: Cylinder, y: float) -> Array:
    x, middle, z = form.base
    if form.along == 1:
        angle = np.linspace(0, 2 * np.pi, 4 * _STEPS, endpoint=False)
        return np.array([[x], [z]]) + form.radius * np.stack([np.cos(angle), np.sin(angle)])
    half = float(np.sqrt(form.radius**2 - (y - middle) ** 2))
    if form.along == 0:
        return _rectangle(x, x + form.length, z - half, z + half)
    return _rectangle(x - half, x + half, z, z + form.length)


def _revolved(form: Revolved, off: float) -> Array | None:
    # on the axis itself straight edges stay straight
    edges = np.array(form.outline) if abs(off) < 1e-9 else _fine(form.outline)
    side = _beyond(edges, abs(off))
    if len(side) < 3:
        return None
    half, z = np.sqrt(np.maximum(side[:, 0] ** 2 - off**2, 0.0)), side[:, 1]
    on_axis = half < 1e-9
    if not np.any(on_axis):  # a ring is never cut open on its axis: both sides would be outlines of their own
        half, z = np.concatenate([half, half[:1]]), np.concatenate([z, z[:1]])
    else:  # begin and end on the axis, and leave out what runs along it
        start = next(i for i in range(len(z)) if on_axis[i] and not on_axis[(i + 1) % len(z)])
        half, z = np.roll(half, -start), np.roll(z, -start)
        keep = np.flatnonzero(half >= 1e-9)
        last = int(keep[-1]) + 2
        half, z = half[:last], z[:last]
    return np.stack([np.concatenate([form.x + half, form.x - half[::-1]]), np.concatenate([z, z[::-1]])])


def _fine(outline: Sequence[tuple[float, float]]) -> Array:
    corners = np.array(outline)
    t = np.arange(_STEPS)[:, None] / _STEPS
    return np.concatenate([a + t * (b - a) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)])


def _beyond(points: Array, r: float) -> Array:
    """The piece of a closed polygon (n, 2) with radius r and more."""
    out = []
    for a, b in zip(points, np.roll(points, -1, axis=0), strict=True):
        if a[0] >= r:
            out.append(a)
        if (a[0] - r) * (b[0] - r) < 0:
            out.append(a + (b - a) * (r - a[0]) / (b[0] - a[0]))
    return np.array(out)
