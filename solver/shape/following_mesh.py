"""A pole's mesh that follows its outline: the same triangles, moved, so that a figure does not jump with the mesh.

Points on the outlines go with them, along each straight piece in proportion. Inside parts and air the displacement
is harmonic with its weight on small elements, which keeps them in shape; on the axis only z moves, the far boundary
stays.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_matrix

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import StringfluxError
from stringflux.geometry.mesh.pole import Quality, SectionMesh, section_mesh
from stringflux.geometry.shapes.row import PoleShape

from ..factor import factor

Ints = npt.NDArray[np.int64]

LEAST_QUALITY = 0.12  # of an element after the move, 1 for an equilateral one
_LEAST_LEFT = 0.15  # of an element's area, relative to before
_ON = 1e-9  # m


class FoldedMeshError(StringfluxError):
    """An element would turn over or become a sliver: the mesh has to be made anew."""


@dataclass(frozen=True, kw_only=True, eq=False)
class FollowingMesh:
    """The mesh of `shape` that follows other shapes with as many parts and corners."""

    shape: PoleShape
    quality: Quality

    @cached_property
    def mesh(self) -> SectionMesh:
        return section_mesh(self.shape, self.quality)

    def moved(self, shape: PoleShape) -> SectionMesh:
        """The mesh of a near shape.

        Raises
        ------
        FoldedMeshError
            When it is too far.
        """
        points = self.mesh.points
        move = np.zeros_like(points)
        for weights, part, other in zip(self._along, self.shape.parts, shape.parts, strict=True):
            corners = np.array(other.outline) - np.array(part.outline)
            nodes, first, second, share = weights
            move[:, nodes] = (corners[first] * (1 - share[:, None]) + corners[second] * share[:, None]).T
        moved = points.copy()
        for axis in (0, 1):
            fixed, free, solve, coupling = self._extension[axis]
            inside = move[axis].copy()
            inside[free] = solve(-(coupling @ move[axis][fixed]))
            moved[axis] += inside
        moved[0, points[0] == 0] = 0.0
        before, after = _areas(points, self.mesh.triangles), _areas(moved, self.mesh.triangles)
        shapely = _quality(moved, self.mesh.triangles, after)
        worst = np.minimum(_quality(points, self.mesh.triangles, before), 2 * LEAST_QUALITY) / 2
        if np.any(after < _LEAST_LEFT * before) or np.any(shapely < worst):
            raise FoldedMeshError("the shape is too far from the one that was meshed; mesh it anew")
        return replace(self.mesh, points=moved)

    @cached_property
    def _along(self) -> list[tuple[Any, Any, Any, Array]]:
        """For every part: its outline's nodes, between which corners each lies, and how far along."""
        found = []
        points = self.mesh.points
        for part in self.shape.parts:
            outline = np.array(part.outline)
            ends = list(pairwise([*range(len(outline)), 0]))
            nodes, first, second, share = [], [], [], []
            for a, b in ends:
                along = outline[b] - outline[a]
                length = float(np.hypot(*along))
                if length < _ON or (outline[a, 0] == 0 and outline[b, 0] == 0):
                    continue
                offset = points.T - outline[a]
                t = offset @ along / length**2
                off = np.abs(offset @ [along[1], -along[0]]) / length
                on = np.flatnonzero((off < _ON) & (t > -_ON / length) & (t < 1 + _ON / length))
                nodes.append(on)
                first.append(np.full(on.size, a))
                second.append(np.full(on.size, b))
                share.append(np.clip(t[on], 0, 1))
            found.append((np.concatenate(nodes), np.concatenate(first), np.concatenate(second),
                          np.concatenate(share)))
        return found

    @cached_property
    def _extension(self) -> tuple[tuple[Any, Any, Any, Any], ...]:
        """For r and z: given and free nodes, the solve for the free ones, what couples them."""
        points, triangles = self.mesh.points, self.mesh.triangles
        stiffness = _stiffness(points, triangles)
        held = np.zeros(points.shape[1], bool)
        for nodes, *_ in self._along:
            held[nodes] = True
        held[self.mesh.far_edges.ravel()] = True
        out = []
        for axis in (0, 1):
            given = held | (points[0] == 0) if axis == 0 else held
            fixed, free = np.flatnonzero(given), np.flatnonzero(~given)
            lu = factor(stiffness[free][:, free])
            out.append((fixed, free, lu.solve, stiffness[free][:, fixed]))
        return tuple(out)


def _stiffness(points: Array, triangles: Ints) -> Any:
    """∫ (1/area) ∇u·∇w on straight triangles: small elements are stiff."""
    x, y = points[:, triangles]
    area = _areas(points, triangles)
    gx = np.stack([y[1] - y[2], y[2] - y[0], y[0] - y[1]]) / (2 * area)
    gy = np.stack([x[2] - x[1], x[0] - x[2], x[1] - x[0]]) / (2 * area)
    entries = gx[:, None] * gx[None] + gy[:, None] * gy[None]
    rows: Ints = np.broadcast_to(triangles[:, None], entries.shape).ravel()
    columns: Ints = np.broadcast_to(triangles[None], entries.shape).ravel()
    n = points.shape[1]
    return coo_matrix((entries.ravel(), (rows, columns)), shape=(n, n)).tocsr()


def _areas(points: Array, triangles: Ints) -> Array:
    x, y = points[:, triangles]
    return np.asarray(((x[1] - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (y[1] - y[0])) / 2)


def _quality(points: Array, triangles: Ints, area: Array) -> Array:
    x, y = points[:, triangles]
    squares = sum((x[i] - x[i - 1]) ** 2 + (y[i] - y[i - 1]) ** 2 for i in range(3))
    return np.asarray(4 * np.sqrt(3) * area / squares)
