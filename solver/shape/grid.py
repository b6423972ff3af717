r"""A grid fixed in space through which a pole of changing shape meets the world.

Like :mod:`.row.rings`: potentials are given on rings (r_k, z_l) of each part and interpolated to the unknowns,
charges of the unknowns are gathered on the rings by the transposed interpolation. Here the rings stay where they are
while the shape changes, so fields of the rings at strings and neighbours are constants of the problem, and all that
changes with the shape is the interpolation ::

    E_m[n, kl] = P_k(r_n²) / r_k^m  S_l(z_n)

P: Lagrange polynomials in r², S: quintic spline through the heights. Without panels E is smooth in the nodes'
places, whatever the profile does.

The coil's potentials come over the same way, sampled once on rings that lie closer (:class:`ShapeDrive`): near the
coil's ends the field changes within less than a millimetre.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.interpolate import BSpline, make_interp_spline

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import PlacedPole, PoleShape, Racetrack

from ..interpolation import lagrange
from ..row.coil_on_pole import potentials_at
from ..row.rings import Rings
from ..section.space import Section

_RADIAL = 8
_FINE = 1.2e-3  # m: heights lie a fifth of (their depth + this) apart
_RATIO = 0.2
_DRIVE_SPACING = 0.4e-3  # m, of the rings on which the coil's potentials are sampled


@dataclass(frozen=True, kw_only=True, eq=False)
class PartGrid:
    """Rings of one part: radii (k,), heights (l,) and the spline of each height's unit vector."""

    radii: Array
    heights: Array
    spline: BSpline

    @property
    def size(self) -> int:
        return self.radii.size * self.heights.size


@dataclass(frozen=True, kw_only=True, eq=False)
class ShapeGrid:
    """Rings of all parts of a pole.

    Attributes
    ----------
    parts : tuple of PartGrid
    r, z : arrays (K,)
        Of every ring, z from the starting face, m.
    owner : int array (unknowns at the pole,)
        Which part's rings serve each unknown of the pole (`section.pole`).
    """

    parts: tuple[PartGrid, ...]
    r: Array
    z: Array
    owner: Array

    def at(self, nodes: Array, orders: int) -> Interpolation:
        """The interpolation to unknowns at `nodes` (2, n)."""
        return Interpolation(self, nodes, orders)

    def rings(self) -> Rings:
        """The rings without an interpolation, for whoever wants their places only."""
        return Rings(r=self.r, z=self.z, spread=())


class Interpolation:
    """E_m and its derivatives with the nodes' places, at given nodes."""

    def __init__(self, grid: ShapeGrid, nodes: Array, orders: int) -> None:
        self._grid, self._nodes = grid, nodes
        self._factors: list[tuple[Any, Array, Array]] = []
        self._steep: list[tuple[Array, Array]] = []
        n = nodes.shape[1]
        self.matrices = [np.zeros((n, grid.r.size)) for _ in range(orders)]
        first = 0
        for i, part in enumerate(grid.parts):
            rows = np.flatnonzero(grid.owner == i)
            radial, axial = lagrange(part.radii**2, nodes[0, rows] ** 2), part.spline(nodes[1, rows])
            self._factors.append((rows, radial, axial))
            columns = slice(first, first + part.size)
            for m, matrix in enumerate(self.matrices):
                block = (radial / part.radii**m)[:, :, None] * axial[:, None, :]
                matrix[rows, columns] = block.reshape(rows.size, -1)
            first += part.size

    def values(self, m: int, values: Array) -> Array:
        """What is interpolated to the nodes from ring values (K, j): (n, j)."""
        return self._apply(m, values, self._factors)

    def slopes(self, m: int, values: Array) -> Array:
        """∂/∂r and ∂/∂z at the nodes of what is interpolated from ring values (K, j): (2, n, j)."""
        if not self._steep:
            for part, (rows, _, _) in zip(self._grid.parts, self._factors, strict=True):
                r, z = self._nodes[:, rows]
                self._steep.append((2 * r[:, None] * lagrange_slope(part.radii**2, r**2),
                                    part.spline.derivative()(z)))
        both = list(zip(self._factors, self._steep, strict=True))
        return np.stack([self._apply(m, values, [(rows, steep, axial) for (rows, _, axial), (steep, _) in both]),
                         self._apply(m, values, [(rows, radial, steep) for (rows, radial, _), (_, steep) in both])])

    def _apply(self, m: int, values: Array, factors: list[tuple[Any, Array, Array]]) -> Array:
        out = np.zeros((self._nodes.shape[1], values.shape[1]))
        first = 0
        for part, (rows, radial, axial) in zip(self._grid.parts, factors, strict=True):
            mine = values[first:first + part.size].reshape(part.radii.size, part.heights.size, -1)
            first += part.size
            columns = (axial @ np.moveaxis(mine, 1, 0).reshape(part.heights.size, -1)).reshape(
                rows.size, part.radii.size, -1)
            out[rows] = np.einsum("nk,nkj->nj", radial / part.radii**m, columns)
        return out


def shape_grid(section: Section, room_up: float, room_out: float, coarsest: float = 1.3e-3) -> ShapeGrid:
    """Rings that also serve shapes that stand `room_up` higher and `room_out` wider than the section's, m.

    `coarsest`: largest distance of the rings' heights.
    """
    parts, r, z = [], [], []
    for i, part in enumerate(section.shape.parts):
        angles = (2 * np.arange(_RADIAL) + 1) * np.pi / (4 * _RADIAL)
        radii = (part.radius + room_out) * np.cos(angles)
        heights = _heights(part.bottom, part.top + (room_up if i == 0 else 0.0), coarsest)
        spline = make_interp_spline(heights, np.eye(heights.size), k=5)
        parts.append(PartGrid(radii=radii, heights=heights, spline=spline))
        R, Z = np.meshgrid(radii, heights, indexing="ij")
        r.append(R.ravel())
        z.append(Z.ravel())
    return ShapeGrid(parts=tuple(parts), r=np.concatenate(r), z=np.concatenate(z), owner=owners(section))


@dataclass(frozen=True, kw_only=True, eq=False)
class ShapeDrive:
    """Grid of one pole shape, for all its places."""

    grid: ShapeGrid
    envelope: PoleShape

    def at(self, nodes: Array) -> Interpolation:
        """The interpolation to unknowns at `nodes` (2, k); it serves every order and place."""
        return self.grid.at(nodes, 0)

    def values(self, coil: Racetrack, place: PlacedPole, orders: int) -> Array:
        """φ_m / r^m times r_k^m, that is φ_m, at the rings of the pole at `place`, (orders, K), A per ampere."""
        owner = np.concatenate([np.full(part.size, i) for i, part in enumerate(self.grid.parts)])
        v = potentials_at(coil, replace(place, shape=self.envelope), np.stack([self.grid.r, self.grid.z]), owner,
                          orders)
        return np.asarray(v * self.grid.r ** np.arange(orders)[:, None])


def shape_drive(section: Section, room_up: float, room_out: float) -> ShapeDrive:
    """Rings for shapes that stand `room_up` higher and `room_out` wider than the section's, m."""
    parts = []
    for i, part in enumerate(section.shape.parts):
        top, radius = part.top + (room_up if i == 0 else 0.0), part.radius + room_out
        parts.append(replace(part, outline=((0.0, part.bottom), (radius, part.bottom), (radius, top), (0.0, top))))
    return ShapeDrive(grid=shape_grid(section, room_up, room_out, _DRIVE_SPACING),
                      envelope=PoleShape(parts=tuple(parts)))


def owners(section: Section) -> Array:
    """The first part that each unknown of the pole belongs to."""
    owner = np.full(section.unknowns, -1)
    for i in reversed(range(len(section.parts))):
        owner[section.parts[i].element_dofs.ravel()] = i
    return np.asarray(owner[section.pole])


def _heights(low: float, high: float, coarsest: float) -> Array:
    """Heights from low to high, closer towards the top."""
    depths = [0.0]
    while depths[-1] < high - low:
        depths.append(depths[-1] + min(coarsest, _RATIO * (_FINE + depths[-1])))
    found = np.array(depths) * ((high - low) / depths[-1])
    if found.size < 8:
        found = np.linspace(0.0, high - low, 8)
    return np.asarray(high - found[::-1])


def lagrange_slope(nodes: Array, x: Array) -> Array:
    """Derivatives (len(x), len(nodes)) of the Lagrange polynomials of `nodes` at x."""
    out = np.zeros((x.size, nodes.size))
    for k in range(nodes.size):
        for i in range(nodes.size):
            if i == k:
                continue
            term = np.full(x.size, 1.0 / (nodes[k] - nodes[i]))
            for j in range(nodes.size):
                if j not in (i, k):
                    term = term * (x - nodes[j]) / (nodes[k] - nodes[j])
            out[:, k] += term
    return out
