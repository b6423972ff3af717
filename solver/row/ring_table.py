"""Fields of one pole shape's rings on an (r, z) table, interpolated by splines.

The kernels of :func:`.rings.ring_kernel` are computed once per distinct pole on a table that is dense near
the pole and thin far out. Any set of ring charges then costs one matrix product and a spline, and so
does the potential of each *string mode* (:mod:`.string_answer`).
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import NdBSpline, make_interp_spline

from stringflux.geometry.arrays import Array

from .numerics import SHIPPED, RowNumerics
from .rings import Rings, ring_kernel

_ANGLES = 8  # and as many as there are orders
_BEND = 0.3  # by what part of the lowest height the heights go on below it
_DEGREE = 5


@dataclass(frozen=True, kw_only=True, eq=False)
class FieldTable:
    """Ring kernels of one pole shape on a grid.

    Attributes
    ----------
    rings : Rings
    r, z : arrays (nr,), (nz,)
        Grid, z relative to the face, m.
    places : array (2, nr, nz)
        Where the kernels are taken: the grid, bent off the pole below the lowest height over its face.
    kernel : array (orders, 3, nr, nz, K)
        Potential, H_r and H_z per ring charge: multiply by q/(4π).
    """

    rings: Rings
    r: Array
    z: Array
    places: Array
    kernel: Array

    def potentials(self, orders: int) -> Iterator[Array]:
        """Potential per ring charge, times 4π, (nr, nz, K), of order 0 … orders − 1."""
        yield from self.kernel[:orders, 0]
        held = len(self.kernel)
        if orders > held:
            r, z = self.places.reshape(2, -1)
            for higher in ring_kernel(r, z, self.rings.r, self.rings.z, orders, _ANGLES + orders, False)[held:, 0]:
                yield higher.reshape(self.kernel.shape[2:])

    def spline(self, values: Array) -> NdBSpline:
        """Spline of values (nr, nz, …) on the grid; call it with points (n, 2)."""
        along_z = make_interp_spline(self.z, values, k=_DEGREE, axis=1)
        c = np.moveaxis(np.asarray(along_z.c), 0, 1)  # scipy stores the interpolated axis first
        along_r = make_interp_spline(self.r, c, k=_DEGREE, axis=0)
        return NdBSpline((along_r.t, along_z.t), np.ascontiguousarray(along_r.c), _DEGREE)


def field_table(rings: Rings, radius: float, low: float, high: float, reach: float, orders: int,
                bottom: float | None = None, numerics: RowNumerics = SHIPPED) -> FieldTable:
    """Make the table.

    Parameters
    ----------
    rings : Rings
        From :func:`.rings.near_rings`.
    radius : float
        Pole radius, m: sets the fine part of the grid.
    low, high : float
        Heights over the face to cover above the pole itself, m.
    reach : float
        Largest distance from the axis, m.
    orders : int
        Azimuthal orders 0 … orders − 1.
    bottom : float, optional
        Lowest height to cover beside the pole, where strings over lower poles lie, m.
    numerics : RowNumerics

    Below `low` nobody asks for fields within 1.5 radii of the axis, and the rings are close or above: the table
    goes on there with the values a little under `low`, so that the spline above stays undisturbed.
    """
    growth, ratio = numerics.table_growth, numerics.table_heights
    r = _radii(radius, reach, growth)
    z = _heights(low, high, ratio)
    beside = bottom is not None and bottom < low
    if bottom is not None and beside:
        low = 0.55 * low  # the bend that follows stays some knots away
        z = np.concatenate([_below(low, bottom, growth, ratio), _heights(low, high, ratio)])
    R, Z = np.meshgrid(r, z, indexing="ij")
    if beside:
        bent = low * (1 - _BEND + _BEND * np.exp(np.minimum(Z / low - 1, 0) / _BEND))
        t = np.clip((1.5 * radius - R) / (0.4 * radius), 0.0, 1.0)
        Z = np.where(low > Z, Z + t**3 * (10 - 15 * t + 6 * t**2) * (bent - Z), Z)
    kernel = ring_kernel(R.ravel(), Z.ravel(), rings.r, rings.z, orders, _ANGLES + orders)
    return FieldTable(rings=rings, r=r, z=z, places=np.stack([R, Z]),
                      kernel=kernel.reshape(orders, 3, r.size, z.size, rings.r.size))


def _radii(radius: float, reach: float, growth: float) -> Array:
    """Close together over the face, closest over its edge."""
    over, at_edge = min(0.12e-3, 0.1 * radius), min(0.06e-3, 0.05 * radius)
    inwards = _spaced(at_edge, over, radius, growth)
    out = _spaced(at_edge, np.inf, reach - radius, growth)
    r = np.concatenate([radius - inwards[:0:-1], radius + out])
    r[0] = 0.0
    return r


def _spaced(first: float, most: float, length: float, growth: float) -> Array:
    """From 0 to `length` in steps that grow from `first` to `most`."""
    steps = [0.0]
    while steps[-1] < length:
        steps.append(steps[-1] + first)
        first = min(first * growth, most)
    return np.array(steps) * (length / steps[-1])


def _heights(low: float, high: float, ratio: float) -> Array:
    """Heights spaced like their distance from the face."""
    return np.geomspace(low, high, max(10, int(np.ceil(np.log(high / low) / ratio))))


def _below(low: float, bottom: float, growth: float, ratio: float) -> Array:
    """Heights from `bottom` up to under `low`, in steps that grow downwards as those over it grow upwards."""
    return low - _spaced(ratio * low, 0.4e-3, low - bottom, growth)[:0:-1]


class PoleField:
    """H of the pole's rings, several excitations at once.

    Parameters
    ----------
    table : FieldTable
    ring_charges : array (excitations, orders, K)
        Charges of the near rings.
    """

    def __init__(self, table: FieldTable, ring_charges: Array) -> None:
        self.excitations, self.orders = ring_charges.shape[:2]
        self._spline = self._fitted(table, ring_charges)

    def but_last(self, table: FieldTable, ring_charges: Array) -> PoleField:
        """The same with other charges (orders, K) of the last excitation; what the others fitted stays."""
        new = self._fitted(table, ring_charges[None])
        kept = self._spline.c[..., : -new.c.shape[-1]]
        other = copy(self)
        other._spline = NdBSpline(new.t, np.concatenate([kept, new.c], axis=-1), _DEGREE)
        return other

    def _fitted(self, table: FieldTable, ring_charges: Array) -> NdBSpline:
        components = np.einsum("mcrzk,emk->rzemc", table.kernel[: self.orders], ring_charges / (4 * np.pi),
                               optimize=True)
        return table.spline(components.reshape(table.r.size, table.z.size, -1))

    def __call__(self, x: Array, y: Array, z: Array) -> Array:
        """H (excitations, 3, n) in A/m at points relative to the pole's axis and face, arrays (n,)."""
        r = np.hypot(x, y)
        values = self._spline(np.stack([r, z], axis=-1)).reshape(r.size, self.excitations, self.orders, 3)
        safe = np.where(r > 1e-9, r, 1.0)
        c, s = np.where(r > 1e-9, y / safe, 1.0), np.where(r > 1e-9, x / safe, 0.0)  # α from +y
        alpha = np.arctan2(s, c)
        out = np.zeros((self.excitations, 3, r.size))
        for m in range(self.orders):
            phi, hr, hz = (values[:, :, m, i].T for i in range(3))
            cos, sin = np.cos(m * alpha), np.sin(m * alpha)
            radial, around = hr * cos, m * phi / safe * sin
            if m == 1:  # on the axis φ/r is −H_r
                around = np.where(r > 1e-6, around, -hr * sin)
            out[:, 0] += radial * s + around * c
            out[:, 1] += radial * c - around * s
            out[:, 2] += hz * cos
        return out
