"""A closed surface of triangles, as STL has it, as a solid of the OCC kernel.

Neighbouring triangles in one plane become one face. The corners of such faces are moved by the rounding of the file
into the planes that meet there, as the kernel takes no face for flat that is off by more than 1e-7 of its unit.
"""

from __future__ import annotations

from collections import deque
from typing import Any

import numpy as np

from ..arrays import Array
from ..errors import CaseError
from .rings import Ints, chained

MOST_FACES = 1500
_FLAT = 1e-5  # of the size: triangles as near to a plane lie in it
_STRAIGHT = 1e-9  # mm: how well corners have to lie in their planes


def merged(points: Array, triangles: Ints, name: str) -> tuple[Array, Ints]:
    """Points (n, 3) that are told apart, and triangles (m, 3) with three corners, of one closed surface.

    Raises
    ------
    CaseError
        If it is open, or more than one.
    """
    size = float(np.linalg.norm(points.max(axis=0) - points.min(axis=0)))
    _, first, number = np.unique(np.round(points / (1e-6 * size)), axis=0, return_index=True, return_inverse=True)
    points, triangles = points[first], number.reshape(-1)[triangles]
    a, b, c = triangles.T
    triangles = triangles[(a != b) & (b != c) & (c != a)]
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    n = len(points)
    there, back = edges[:, 0] * n + edges[:, 1], edges[:, 1] * n + edges[:, 0]
    alone = edges[~np.isin(there, back)]
    if len(alone) or len(np.unique(there)) < len(there):
        where = points[alone[0] if len(alone) else edges[0]].mean(axis=0)
        many = f"{len(alone)} edges have a triangle on one side only" if len(alone) else "triangles lie on each other"
        raise CaseError(f"{name}: its surface is not closed, {many}, the first near "
                        f"[{', '.join(f'{v:.4g}' for v in where)}] in the file's unit; mend it where it was drawn")
    if (parts := _parts(triangles)) > 1:
        raise CaseError(f"{name}: it holds {parts} closed surfaces; write each body into a file of its own")
    p, q, r = (points[triangles[:, k]] for k in range(3))
    if np.einsum("ij,ij->", p, np.cross(q, r)) < 0:
        triangles = triangles[:, ::-1]
    return points, triangles


def _parts(triangles: Ints) -> int:
    """How many pieces hang together by their corners."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    used, t = np.unique(triangles, return_inverse=True)
    t = t.reshape(-1, 3)
    rows, columns = np.concatenate([t[:, 0], t[:, 1]]), np.concatenate([t[:, 1], t[:, 2]])
    graph = coo_matrix((np.ones(rows.size), (rows, columns)), shape=(used.size, used.size))
    return int(connected_components(graph, directed=False)[0])


def flat_faces(points: Array, triangles: Ints) -> Ints:
    """Which face each triangle (m, 3) of a closed surface belongs to."""
    size = float(np.linalg.norm(points.max(axis=0) - points.min(axis=0)))
    a, b, c = (points[triangles[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    area = np.linalg.norm(normal, axis=1)
    normal /= np.maximum(area, 1e-300)[:, None]
    owner: dict[tuple[int, int], int] = {}
    for i, (p, q, r) in enumerate(triangles.tolist()):
        owner |= {(p, q): i, (q, r): i, (r, p): i}
    face = np.full(len(triangles), -1)
    count = 0
    for seed in np.argsort(-area):
        if face[seed] >= 0:
            continue
        face[seed] = count
        n, d = normal[seed], float(normal[seed] @ a[seed])
        todo = deque([int(seed)])
        while todo:
            p, q, r = triangles[todo.popleft()].tolist()
            for edge in ((q, p), (r, q), (p, r)):
                k = owner[edge]
                if face[k] < 0 and normal[k] @ n > 0.99 and np.all(abs(points[triangles[k]] @ n - d) < _FLAT * size):
                    face[k] = count
                    todo.append(k)
        count += 1
    return face


def add_triangles(occ: Any, points: Array, triangles: Ints, name: str) -> list[tuple[int, int]]:
    """A solid of a closed surface, whose coordinates are in the kernel's unit.

    Raises
    ------
    CaseError
        If it has more faces than can be meshed.
    """
    face = flat_faces(points, triangles)
    faces = int(face.max()) + 1
    if faces > MOST_FACES:
        raise CaseError(f"{name}: its surface has {faces} flat faces, and {MOST_FACES} are the most; export it "
                        "coarser, or as STEP, which keeps round faces round")
    points, whole = _in_planes(points, triangles, face)
    for k in np.flatnonzero(np.logical_not(whole)):  # it stays as it is, triangle by triangle
        own = np.flatnonzero(face == k)
        face[own[1:]] = faces + np.arange(len(own) - 1)
        faces += len(own) - 1
    loops = [_rims(triangles[face == k]) for k in range(faces)]
    dropped = _straight_through(points, loops)
    tags: dict[int, int] = {}
    lines: dict[tuple[int, int], int] = {}
    surfaces = []
    for rims in loops:
        curves = []
        for rim in rims:
            ring = [v for v in rim if v not in dropped]
            around = []
            for p, q in zip(ring, [*ring[1:], ring[0]], strict=True):
                for v in (p, q):
                    if v not in tags:
                        tags[v] = occ.addPoint(*points[v])
                if (q, p) in lines:
                    around.append(-lines[q, p])
                else:
                    lines[p, q] = occ.addLine(tags[p], tags[q])
                    around.append(lines[p, q])
            curves.append(occ.addCurveLoop(around))
        surfaces.append(occ.addPlaneSurface(curves))
    return [(3, occ.addVolume([occ.addSurfaceLoop(surfaces, sewing=False)]))]


def _rims(triangles: Ints) -> list[list[int]]:
    """Closed rims of a face, the longest first."""
    edges = {(a, b) for p, q, r in triangles.tolist() for a, b in ((p, q), (q, r), (r, p))}
    rim = [edge for edge in edges if edge[::-1] not in edges]
    return sorted(chained(np.array(sorted(rim))), key=len, reverse=True)


def _in_planes(points: Array, triangles: Ints, face: Ints) -> tuple[Array, Array]:
    """Points moved into the planes of all faces of more than one triangle that meet in them, and which faces are
    flat then."""
    faces = int(face.max()) + 1
    size = float(np.linalg.norm(points.max(axis=0) - points.min(axis=0)))
    many = np.bincount(face, minlength=faces) > 1
    planes = np.zeros((faces, 4))
    of_point: dict[int, list[int]] = {}
    for k in np.flatnonzero(many):
        corners = np.unique(triangles[face == k])
        centre = points[corners].mean(axis=0)
        normal = np.linalg.svd(points[corners] - centre)[2][2]
        planes[k] = (*normal, normal @ centre)
        for v in corners.tolist():
            of_point.setdefault(v, []).append(int(k))
    moved = points.copy()
    for v, own in of_point.items():
        a, d = planes[own, :3], planes[own, 3]
        step = np.linalg.lstsq(a, d - a @ points[v], rcond=1e-3)[0]
        if np.linalg.norm(step) < 10 * _FLAT * size:
            moved[v] += step
    flat = np.ones(faces, dtype=bool)
    for k in np.flatnonzero(many):
        corners = np.unique(triangles[face == k])
        flat[k] = bool(np.max(abs(moved[corners] @ planes[k, :3] - planes[k, 3])) < max(_STRAIGHT, 1e-13 * size))
    return moved, flat


def _straight_through(points: Array, loops: list[list[list[int]]]) -> set[int]:
    """Corners that two faces share along a straight edge, which need not be corners."""
    found: dict[int, list[bool]] = {}
    for rims in loops:
        for rim in rims:
            for i, v in enumerate(rim):
                before, after = points[v] - points[rim[i - 1]], points[rim[(i + 1) % len(rim)]] - points[v]
                turn = np.linalg.norm(np.cross(before, after))
                straight = bool(turn < 1e-9 * np.linalg.norm(before) * np.linalg.norm(after)) and len(rim) > 3
                found.setdefault(v, []).append(straight)
    return {v for v, straight in found.items() if len(straight) == 2 and all(straight)}
