r"""K = ∫ μ ∇w·∇u on the free unknowns of a space, for one tensor μ in its bodies after the other.

Where entries stand, and what air puts there, is found once; another μ costs the bodies' elements alone. Beside K
stands Pᵀ K P of the P1 functions on the same mesh, from the same elements: each one's ten functions taken together to
four.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_matrix, csr_matrix

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.solid import EDGES

from .space import SolidSpace
from .two_level import from_vertices

_DOWN = np.concatenate([np.eye(4), [(np.eye(4)[a] + np.eye(4)[b]) / 2 for a, b in EDGES]])  # (10, 4)


class Assembled:
    """K and Pᵀ K P of a space.

    Parameters
    ----------
    space : SolidSpace
    odd : tuple of int
        Planes about which the potential is odd.

    Attributes
    ----------
    free : int array (n,)
        The unknowns of the space that are not fixed at 0.
    P : csr_matrix (n, vertices)
        The free unknowns from those of them that are vertices.
    """

    def __init__(self, space: SolidSpace, odd: tuple[int, ...] = ()) -> None:
        self.free = space.free(odd)
        vertices = space.mesh.points.shape[1]
        corners = self.free[self.free < vertices]
        self.P = csr_matrix(from_vertices(vertices, space.edges)[self.free][:, corners])
        air = csr_matrix(space.air[self.free][:, self.free])
        self._bodies = space.bodies
        number = np.full(space.unknowns, -1)
        number[self.free] = np.arange(self.free.size)
        dofs = number[np.concatenate([e.dofs for e in space.bodies], axis=1)]
        self._fine = _Pattern(air, dofs)
        self._coarse = _Pattern(csr_matrix(self.P.T @ air @ self.P), dofs[:4])  # vertices come first

    def __call__(self, tensors: Sequence[Array]) -> tuple[csr_matrix, csr_matrix]:
        """K (n, n) and Pᵀ K P for real symmetric tensors (3, 3, e, q) in the bodies, H/m."""
        local = np.concatenate([e.local(t) for e, t in zip(self._bodies, tensors, strict=True)])
        return self._fine(local), self._coarse(_DOWN.T @ local @ _DOWN)


def assembled(space: SolidSpace, odd: tuple[int, ...] = ()) -> Assembled:
    """That of a space, made once."""
    key = f"assembled {odd}"
    if key not in space._kept:
        space._kept[key] = Assembled(space, odd)
    found: Assembled = space._kept[key]
    return found


class _Pattern:
    """Where the entries of a symmetric matrix stand: what is always there, and what elements (k, e) add."""

    def __init__(self, always: csr_matrix, dofs: npt.NDArray[np.int64]) -> None:
        n, k = always.shape[0], dofs.shape[0]
        self._upper = np.triu_indices(k)
        ends = np.sort(dofs[np.stack(self._upper)], axis=0)  # (2, pairs, e)
        self._used = (ends[0] >= 0).T
        keys, place = np.unique((ends[0] * n + ends[1]).T[self._used], return_inverse=True)
        own = csr_matrix((np.ones(keys.size), (keys // n, keys % n)), shape=(n, n))
        there = csr_matrix((np.ones(always.nnz), always.indices, always.indptr), shape=(n, n))
        whole = csr_matrix(there + own + own.T)
        whole.sort_indices()
        self._shape, self._indices, self._indptr = whole.shape, whole.indices, whole.indptr
        every = np.repeat(np.arange(n), np.diff(whole.indptr)) * n + whole.indices
        self._keys, self._turned = (np.searchsorted(every, k).astype(np.int32)
                                    for k in (keys, keys % n * n + keys // n))
        self._place = self._keys[place]
        self._always = np.zeros(every.size)
        air = coo_matrix(always)
        self._always[np.searchsorted(every, air.row.astype(np.int64) * n + air.col)] = air.data

    def __call__(self, local: Array) -> csr_matrix:
        """The matrix with elements (e, k, k)."""
        added = np.bincount(self._place, local[:, self._upper[0], self._upper[1]][self._used], self._always.size)
        data = self._always + added
        apart = self._keys != self._turned
        data[self._turned[apart]] += added[self._keys[apart]]
        return csr_matrix((data, self._indices, self._indptr), shape=self._shape)
