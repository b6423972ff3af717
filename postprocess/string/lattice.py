"""Fields along a string for any small displacement, from values on a lattice of displacements.

The fields are harmonic and smooth above the poles, so their values at the string's nodes x_i for a string
at (y, z) are polynomials in y and t = ln(z − floor) to many digits: over an edge they change with the height in
proportion to it, down to the face. They are sampled at Chebyshev points once; every string position after that, or
the mean over several, is a small matrix product.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.solver.interpolation import barycentric


@dataclass(frozen=True, kw_only=True, eq=False)
class Lattice:
    """Samples on a tensor grid of string positions.

    Attributes
    ----------
    y, z : arrays (ny,), (nz,)
        Positions of the string's axis across the row and its height, m.
    values : array (ny, nz, c, nx)
        Components at the string's nodes.
    floor : float
        A height under all of z, m: that of the face, or what is as far below where there is none.
    """

    y: Array
    z: Array
    values: Array
    floor: float

    def at(self, y: Array, z: Array) -> Array:
        """Values (b, c, nx) for positions y, z of shape (b,)."""
        return self.mean(y[:, None], z[:, None])

    def mean(self, y: Array, z: Array) -> Array:
        """Means (b, c, nx) over the n positions y, z of shape (b, n)."""
        ly = barycentric(self.y, y.ravel()).reshape(*y.shape, -1)
        lz = barycentric(np.log(self.z - self.floor), np.log(z.ravel() - self.floor)).reshape(*z.shape, -1)
        return np.tensordot(np.swapaxes(ly, 1, 2) @ lz / y.shape[1], self.values, 2)
