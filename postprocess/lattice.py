"""Fields along a string for any small displacement, from values on a lattice of displacements.

The fields are harmonic and smooth above the poles, so their values at the string's nodes x_i for a string
at (y, z) are polynomials in (y, z) to many digits. They are sampled at Chebyshev displacements once; every
string position after that is a small matrix product.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array


@dataclass(frozen=True, kw_only=True, eq=False)
class Lattice:
    """Samples on a tensor grid of string positions.

    Attributes
    ----------
    y, z : arrays (ny,), (nz,)
        Positions of the string's axis across the row and its height, m.
    values : array (ny, nz, c, nx)
        Components at the string's nodes.
    """

    y: Array
    z: Array
    values: Array

    def at(self, y: Array, z: Array) -> Array:
        """Values (b, c, nx) for positions y, z of shape (b,)."""
        ly, lz = barycentric(self.y, y), barycentric(self.z, z)
        at_y = np.tensordot(ly, self.values, (1, 0))  # (b, nz, c, nx)
        return np.asarray(lz[:, None] @ at_y.reshape(*lz.shape, -1)).reshape(y.size, *at_y.shape[2:])


def barycentric(nodes: Array, x: Array) -> Array:
    """Lagrange weights (len(x), len(nodes)), stable for any node count; one node means a constant."""
    if nodes.size == 1:
        return np.ones((x.size, 1))
    gaps = nodes[:, None] - nodes[None, :]
    np.fill_diagonal(gaps, 1.0)
    gaps = gaps / np.max(np.abs(gaps))
    w = 1.0 / np.prod(gaps, axis=1)
    d = x[:, None] - nodes[None, :]
    hit = np.abs(d) < 1e-15
    d = np.where(hit, 1.0, d)
    out = w / d
    out /= out.sum(axis=1, keepdims=True)
    rows = hit.any(axis=1)
    out[rows] = hit[rows].astype(float)
    return np.asarray(out)
