"""λ over displacements from rest, as a product of Chebyshev series: the map of a string made smooth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import chebyshev

from stringflux.geometry.arrays import Array


@dataclass(frozen=True, kw_only=True, eq=False)
class Surface:
    """λ over displacements from rest, as a product of Chebyshev series.

    Attributes
    ----------
    y, z : (float, float)
        Reach of the map, m.
    coefficients : array (ny, nz)
        Wb.
    """

    y: tuple[float, float]
    z: tuple[float, float]
    coefficients: Array

    def linkage(self, y: Array, z: Array) -> Array:
        """λ (n,) at displacements (n,), Wb."""
        return np.asarray(chebyshev.chebval2d(self._unit(y, self.y), self._unit(z, self.z), self.coefficients))

    def slopes(self, y: Array, z: Array) -> tuple[Array, Array]:
        """∂λ/∂y and ∂λ/∂z (n,), V·s/m."""
        _, by_y, by_z = self.everything(y, z)
        return by_y, by_z

    def everything(self, y: Array, z: Array) -> tuple[Array, Array, Array]:
        """λ, Wb, ∂λ/∂y and ∂λ/∂z, V·s/m, (n,) each."""
        c, (u, v) = self.coefficients, (self._unit(y, self.y), self._unit(z, self.z))
        Tu, Tv = _chebyshev(u, c.shape[0]), _chebyshev(v, c.shape[1])
        by_y = 2 / (self.y[1] - self.y[0]) * chebyshev.chebder(c, axis=0)
        by_z = 2 / (self.z[1] - self.z[0]) * chebyshev.chebder(c, axis=1)
        return (np.sum((c.T @ Tu) * Tv, axis=0), np.sum((by_y.T @ Tu[:-1]) * Tv, axis=0),
                np.sum((by_z.T @ Tu) * Tv[:-1], axis=0))

    def holds(self, y: Array, z: Array) -> bool:
        """Whether all displacements lie in the map."""
        return bool(np.min(y) >= self.y[0] and np.max(y) <= self.y[1]
                    and np.min(z) >= self.z[0] and np.max(z) <= self.z[1])

    @staticmethod
    def _unit(x: Array, ends: tuple[float, float]) -> Array:
        return np.asarray((2 * x - ends[0] - ends[1]) / (ends[1] - ends[0]))


def surface(map_y: Array, map_z: Array, linkage: Array) -> Surface:
    """The polynomial through a linkage map at displacements map_y (ny,), map_z (nz,); linkage (ny, nz)."""
    y, z = (float(map_y[0]), float(map_y[-1])), (float(map_z[0]), float(map_z[-1]))
    Vy, Vz = (_chebyshev(Surface._unit(x, ends), len(x)).T for x, ends in ((map_y, y), (map_z, z)))
    return Surface(y=y, z=z, coefficients=np.linalg.solve(Vy, np.linalg.solve(Vz, linkage.T).T))


def _chebyshev(x: Array, count: int) -> Array:
    """T_0 … T_{count−1} at x (n,), (count, n)."""
    out = np.ones((count, x.size))
    out[1:2] = x
    for k in range(2, count):
        out[k] = 2 * x * out[k - 1] - out[k - 2]
    return out
