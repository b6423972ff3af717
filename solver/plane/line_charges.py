r"""B in the air from the magnetisation of bars, endless along y.

The magnetisation of the parts, seen through the basis functions, is a line charge at every unknown,
q_n = ∫ M·∇w_n dx dz (A), so that

    φ = −(1/2π) Σ q_n ln |t − n|       B = (μ0/2π) Σ q_n (t − n)/|t − n|²

which integrates the solution in place of differentiating it: the field is smooth in t. Some triangles away from a
surface it is as good as the magnetisation. Of half a section the mirror image is added: where A is odd in x the
charges at −x equal those at x, where it is even they are their opposites.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

from ..constants import MU0

_BLOCK = 60_000  # pairs of point and charge at a time: they stay in the cache


@dataclass(frozen=True, kw_only=True, eq=False)
class LineCharges:
    """Line charges along y.

    Attributes
    ----------
    nodes : array (2, k)
        x, z of each, m.
    charges : array (k,) or (k, m)
        A, of one or more excitations.
    mirror : int
        0, or the sign of the images at −x.
    """

    nodes: Array
    charges: Array
    mirror: int = 0

    @property
    def whole(self) -> tuple[Array, Array]:
        """Nodes and charges with the images."""
        if not self.mirror:
            return self.nodes, self.charges
        images = self.nodes * np.array([[-1.0], [1.0]])
        return np.hstack([self.nodes, images]), np.concatenate([self.charges, self.mirror * self.charges])

    def field(self, points: Array) -> Array:
        """B_x, B_z in T at points (2, ...), m: (2, ...) or, of m excitations, (m, 2, ...)."""
        nodes, q = self.whole
        table = q.reshape(q.shape[0], -1)
        flat = points.reshape(2, -1)
        out = np.empty((table.shape[1], 2, flat.shape[1]))
        for block in _blocks(flat.shape[1], nodes.shape[1]):
            d = flat[:, block, None] - nodes[:, None, :]
            d *= 1 / (d[0] * d[0] + d[1] * d[1])
            out[:, :, block] = np.moveaxis(d @ table, 2, 0)
        out = MU0 / (2 * np.pi) * out.reshape(-1, *points.shape)
        return out[0] if q.ndim == 1 else out

    def potential(self, points: Array) -> Array:
        """φ in A at points (2, n), (n,); of one excitation. A point on a charge leaves that charge out."""
        nodes, q = self.whole
        out = np.empty(points.shape[1])
        for block in _blocks(points.shape[1], nodes.shape[1]):
            d = points[:, block, None] - nodes[:, None, :]
            r2 = d[0] ** 2 + d[1] ** 2
            out[block] = -np.log(np.where(r2 > 0, r2, 1.0)) @ q / (4 * np.pi)
        return out


def _blocks(points: int, charges: int) -> Iterator[slice]:
    step = max(1, _BLOCK // max(1, charges))
    for first in range(0, points, step):
        yield slice(first, first + step)
