r"""For every body the gradient field of its own P2 functions nearest to a given one, in the norm of a tensor T.

    ∫ ∇w·T ∇ψ = ∫ ∇w·T H_s   in each body alone

A body with a tunnel through which the current goes is the exception: H_s goes round it with all of the current, which
no gradient does. There H_s stays as it is; it nearly cancels nowhere, for what is left of it carries the current too.

Because the load T H_s tests to the same numbers with either field, a linear problem's φ does not change; only
H_s − ∇φ loses the noise of its cancellation.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.sparse import block_diag, csr_matrix, diags
from scipy.sparse.linalg import LinearOperator, cg

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError
from stringflux.geometry.mesh.solid import EDGES

from .space import Elements, Ints
from .two_level import TwoLevel, from_vertices

TOLERANCE = 1e-9
_LINKED = 0.02  # of H_s that no gradient takes up: noise leaves 0.5 % at draft, a coil through a tunnel 77 %
_SHIFT = 1e-9  # of the diagonal: makes the potentials inside single bodies unique


class NearestGradients:
    """The projection on gradients in some bodies.

    Parameters
    ----------
    bodies : sequence of Elements
    weights : sequence of arrays (3, 3, e, q)
        T in each.
    """

    def __init__(self, bodies: Sequence[Elements], weights: Sequence[Array]) -> None:
        self._weights = weights
        self._owners: list[Elements] = []
        self._sizes: list[int] = []
        self._tunnelled = [has_tunnel(e.dofs) for e in bodies]
        matrices, below = [], []
        for e, t in zip(bodies, weights, strict=True):
            used, local = np.unique(e.dofs, return_inverse=True)
            own = Elements(dofs=local.reshape(e.dofs.shape), gradient=e.gradient, weight=e.weight, points=e.points)
            matrices.append(own.matrix(t, used.size))
            below.append(_from_own_vertices(own.dofs, used.size))
            self._owners.append(own)
            self._sizes.append(used.size)
        if bodies:
            whole = csr_matrix(block_diag(matrices))
            self._matrix = csr_matrix(whole + _SHIFT * diags(whole.diagonal()))
            cycle = TwoLevel(self._matrix, csr_matrix(block_diag(below)))
            self._cycle = LinearOperator(whole.shape, cycle, dtype=float)

    @property
    def unknowns(self) -> int:
        """Of ψ."""
        return sum(self._sizes)

    def __call__(self, sources: Sequence[Array], start: Array | None = None,
                 tolerance: float = TOLERANCE) -> tuple[list[Array], Array]:
        """∇ψ (3, e, q) in every body for H_s (3, e, q), and ψ of all, where another call may start.

        Raises
        ------
        SolveError
            When it does not settle.
        """
        if not self._owners:
            return [], np.zeros(0)
        load = np.concatenate([e.load(np.einsum("ijeq,jeq->ieq", t, s), n)
                               for e, t, s, n in zip(self._owners, self._weights, sources, self._sizes, strict=True)])
        psi, info = cg(self._matrix, load, x0=start, rtol=tolerance, maxiter=1000, M=self._cycle)
        if info != 0:
            raise SolveError("the coil's field in the steel did not settle; try another --quality")
        parts = np.split(psi, np.cumsum(self._sizes)[:-1])
        found = [e.field(part) for e, part in zip(self._owners, parts, strict=True)]
        for i, e in enumerate(self._owners):
            if self._tunnelled[i] and _size(sources[i] - found[i], e) > _LINKED * _size(sources[i], e):
                found[i] = sources[i]
        return found, psi


def has_tunnel(dofs: Ints) -> bool:
    """Whether a body has a hole from end to end: its vertices less edges, more faces, less tetrahedra are under 1.

    The body is connected and without voids.
    """
    faces = np.concatenate([dofs[list(f)] for f in ((0, 1, 2), (0, 1, 3), (0, 2, 3), (1, 2, 3))], axis=1)
    faces = np.sort(faces, axis=0)
    count = np.unique(dofs[:4]).size - np.unique(dofs[4:]).size + np.unique(faces, axis=1).shape[1] - dofs.shape[1]
    return bool(count < 1)


def _size(vector: Array, e: Elements) -> float:
    return float(np.sqrt(np.sum(np.abs(vector) ** 2 * e.weight)))


def _from_own_vertices(dofs: Ints, unknowns: int) -> csr_matrix:
    """P2 unknowns of a body, its vertices first, from P1's."""
    vertices = int(dofs[:4].max()) + 1
    ends = np.empty((2, unknowns - vertices), dtype=np.int64)
    for i, (a, b) in enumerate(EDGES, start=4):
        ends[:, dofs[i] - vertices] = dofs[[a, b]]
    return from_vertices(vertices, ends)
