"""Pieces as solids of the OCC kernel: made in axes of their own, turned, shifted, joined and cut."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import combinations
from math import pi
from typing import Any

import numpy as np

from ..arrays import Array
from ..shapes.loops import Loop, middle, sides
from ..shapes.pieces import FormPiece, FromFile, Hull, Prism, Turned
from ..shapes.placement import Placement, Rows
from .files import add_file

Solids = list[tuple[int, int]]
_FLAT = 1e-9  # m: points so near to a plane lie in it


def add_shaped(occ: Any, joined: Sequence[FormPiece], cut: Sequence[FormPiece], unit: float = 1.0) -> Solids:
    """The solids of what is made of pieces; `unit` of the kernel's units are a metre."""
    solids = add_piece(occ, joined[0], unit)
    if len(joined) > 1:
        solids = list(occ.fuse(solids, [s for p in joined[1:] for s in add_piece(occ, p, unit)])[0])
    if cut:
        solids = list(occ.cut(solids, [s for p in cut for s in add_piece(occ, p, unit)])[0])
    return solids


def add_piece(occ: Any, piece: FormPiece, unit: float = 1.0) -> Solids:
    """The solids of one piece in its place."""
    if isinstance(piece.shape, Turned):
        return _turned(occ, piece.shape, piece.placement, unit)
    solids = _own(occ, piece.shape, unit)
    axis, angle = _axis_angle(piece.placement.rows)
    if angle:
        occ.rotate(solids, 0, 0, 0, *axis, angle)
    occ.translate(solids, *(unit * c for c in piece.placement.shift))
    return solids


def _axis_angle(rows: Rows) -> tuple[tuple[float, float, float], float]:
    """A rotation as an axis and an angle in rad about it."""
    r = np.array(rows)
    angle = float(np.arccos(np.clip((np.trace(r) - 1) / 2, -1.0, 1.0)))
    if angle < 1e-12:
        return (0.0, 0.0, 1.0), 0.0
    values, vectors = np.linalg.eig(r)
    axis = np.real(vectors[:, int(np.argmin(abs(values - 1)))])
    sense = np.array([r[2, 1] - r[1, 2], r[0, 2] - r[2, 0], r[1, 0] - r[0, 1]])
    axis = axis if axis @ sense >= 0 else -axis
    return (float(axis[0]), float(axis[1]), float(axis[2])), angle


def _own(occ: Any, shape: Prism | Hull | FromFile, unit: float) -> Solids:
    if isinstance(shape, Prism):
        curves = [_curve(occ, loop, lambda u, v: (unit * u, unit * v, 0.0)) for loop in (shape.outline, *shape.holes)]
        made = occ.extrude([(2, occ.addPlaneSurface(curves))], 0, 0, unit * shape.length)
        return [p for p in made if p[0] == 3]
    if isinstance(shape, Hull):
        return _hull(occ, unit * np.array(shape.points), _faces(shape.points))
    return add_file(occ, shape, unit)


def _turned(occ: Any, shape: Turned, placement: Placement, unit: float) -> Solids:
    """Turned where it stands: a cone that the kernel has shifted or rotated loses what a plane through its apex needs
    to cut it, and gmsh then meshes neither half."""
    def place(u: float, v: float) -> tuple[float, float, float]:
        x, y, z = placement.at((u, 0.0, v))
        return unit * x, unit * y, unit * z

    face = occ.addPlaneSurface([_curve(occ, shape.outline, place)])
    made = occ.revolve([(2, face)], *place(0.0, 0.0), *(row[2] for row in placement.rows), 2 * pi)
    return [p for p in made if p[0] == 3]


def _curve(occ: Any, loop: Loop, place: Callable[[float, float], tuple[float, float, float]]) -> int:
    """A closed curve, each of its points in its place."""
    def point(u: float, v: float) -> int:
        return int(occ.addPoint(*place(u, v)))

    corners = [point(u, v) for u, v, _ in loop]
    curves = []
    for (a, b), start, end in zip(sides(loop), corners, [*corners[1:], corners[0]], strict=True):
        through = a[2] and point(*middle(a, b))
        curves.append(occ.addCircleArc(start, through, end, center=False) if a[2] else occ.addLine(start, end))
    return int(occ.addCurveLoop(curves))


@lru_cache(maxsize=256)
def _faces(points: tuple[tuple[float, float, float], ...]) -> list[list[int]]:
    return hull_faces(np.array(points))


def _hull(occ: Any, points: Array, faces_of: Sequence[Sequence[int]]) -> Solids:
    """The convex body between points, by its faces."""
    tags = [occ.addPoint(*p) for p in points]
    edges: dict[tuple[int, int], int] = {}
    faces = []
    for ring in faces_of:
        curves = []
        for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
            key = (min(a, b), max(a, b))
            if key not in edges:
                edges[key] = occ.addLine(tags[key[0]], tags[key[1]])
            curves.append(edges[key] if key == (a, b) else -edges[key])
        faces.append(occ.addPlaneSurface([occ.addCurveLoop(curves)]))
    return [(3, occ.addVolume([occ.addSurfaceLoop(faces)]))]


def hull_faces(points: Array, flat: float = _FLAT) -> list[list[int]]:
    """Faces of the convex body between points (n, 3), each as the numbers of its corners in their order round it: the
    planes through three points that have all others on one side."""
    found: dict[tuple[int, ...], list[int]] = {}
    for i, j, k in combinations(range(len(points)), 3):
        normal = np.cross(points[j] - points[i], points[k] - points[i])
        size = float(np.linalg.norm(normal))
        if size < flat**2:
            continue
        normal /= size
        off = (points - points[i]) @ normal
        if off.max() > flat and off.min() < -flat:
            continue
        on = np.flatnonzero(abs(off) <= flat)
        key = tuple(int(n) for n in on)
        if key not in found:
            outward = normal if off.min() < -flat else -normal
            found[key] = _round(points[on], on, outward)
    return list(found.values())


def _round(corners: Array, numbers: Any, normal: Array) -> list[int]:
    """Corners of a face counter-clockwise seen from outside, without those that lie on its edges or inside it."""
    away = corners - corners.mean(axis=0)
    u = away[int(np.argmax(np.linalg.norm(away, axis=1)))]
    u = u / np.linalg.norm(u)
    v = np.cross(normal, u)
    order = np.argsort(np.arctan2(away @ v, away @ u))
    ring = [(int(numbers[i]), corners[i]) for i in order]
    kept = []
    for n, (number, p) in enumerate(ring):
        before, after = ring[n - 1][1], ring[(n + 1) % len(ring)][1]
        if np.linalg.norm(np.cross(p - before, after - p)) > 1e-9 * np.linalg.norm(away) ** 2:
            kept.append(number)
    first = kept.index(min(kept))  # whatever the sizes: hulls of like corners are put together in the same way
    return kept[first:] + kept[:first]
