r"""Solving K x = f: conjugate gradients, preconditioned by one cycle of two levels (:mod:`.two_level`)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.linalg import LinearOperator, cg

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError

from ..products import Product
from .assembled import assembled
from .space import SolidSpace
from .two_level import TwoLevel

TOLERANCE = 1e-8
_MOST = 400
_UNSETTLED = (f"the 3-D field did not settle in {_MOST} iterations; try another --quality, and check that no body is "
              "very thin or nearly touches another")


class SolidSolver:
    """K on the free unknowns of a space, ready to be solved for many loads.

    Parameters
    ----------
    space : SolidSpace
    tensors : sequence of arrays (3, 3, e, q)
        μ of every body, real and symmetric, H/m.
    odd : tuple of int
        Planes about which the potential is odd.
    instead_of : SolidSolver, optional
        Of the same space and planes and of much the same tensors: it is used up.
    """

    matrix: csr_matrix
    _cycle: TwoLevel

    def __init__(self, space: SolidSpace, tensors: Sequence[Array], odd: tuple[int, ...] = (),
                 instead_of: SolidSolver | None = None) -> None:
        forms = assembled(space, odd)
        used_up = None if instead_of is None else instead_of._cycle
        if instead_of is not None:  # room for the next matrix
            del instead_of.matrix, instead_of._cycle._matrix
        self.free = forms.free
        self.matrix, below = forms(tensors)
        self.iterations = 0
        self._cycle = TwoLevel(self.matrix, forms.P, below, used_up)

    def solve(self, load: Array, start: Array | None = None, tolerance: float = TOLERANCE) -> Array:
        """x on all unknowns, 0 where fixed; |K x − f| ≤ tolerance |f|.

        Raises
        ------
        SolveError
            When the iteration does not get there.
        """
        return self.solve_as(self.matrix, load, start, tolerance)

    def solve_as(self, matrix: csr_matrix, load: Array, start: Array | None = None,
                 tolerance: float = TOLERANCE) -> Array:
        """The same for another matrix (on the free unknowns) like the one that the preconditioner was made of.

        Raises
        ------
        SolveError
            When it does not settle.
        """
        f = load[self.free]
        out = np.zeros(load.size)
        if not np.any(f):
            return out
        count = [0]

        def counted(_: Array) -> None:
            count[0] += 1

        product = LinearOperator(matrix.shape, matvec=Product(matrix).__matmul__, dtype=float)
        x, info = cg(product, f, x0=None if start is None else start[self.free], rtol=tolerance, maxiter=_MOST,
                     M=LinearOperator(matrix.shape, self._cycle, dtype=float), callback=counted)
        self.iterations = count[0]
        if info != 0:
            raise SolveError(_UNSETTLED)
        out[self.free] = x
        return out

    def solve_several(self, loads: Array, tolerance: float | Array = TOLERANCE) -> Array:
        """As :meth:`solve` for loads (unknowns, k) at one time, each as near as it is to be: K is read once for all.

        Raises
        ------
        SolveError
            When one does not settle.
        """
        f = loads[self.free]
        out = np.zeros(loads.shape)
        aim = tolerance * np.linalg.norm(f, axis=0)
        going = np.flatnonzero(aim > 0)
        product = Product(self.matrix)
        x, r = np.zeros((f.shape[0], going.size)), f[:, going]
        p, last = np.zeros_like(x), np.ones(going.size)
        for count in range(_MOST):
            done = np.linalg.norm(r, axis=0) <= aim[going]
            if np.any(done):
                out[np.ix_(self.free, going[done])] = x[:, done]
                left = ~done
                x, r, p, last, going = x[:, left], r[:, left], p[:, left], last[left], going[left]
            self.iterations = count
            if going.size == 0:
                return out
            z = self._cycle(r)
            rho = np.einsum("nk,nk->k", r, z)
            p = z + (rho / last if count else 0.0) * p
            q = product @ p
            step = rho / np.einsum("nk,nk->k", p, q)
            x, r, last = x + step * p, r - step * q, rho
        raise SolveError(_UNSETTLED)

    def solve_complex(self, matrix: csr_matrix, load: Array, tolerance: float = TOLERANCE,
                      like: Sequence[Array] = ()) -> Array:
        """x of a complex symmetric matrix (all unknowns) whose real part is like the one given at first.

        Conjugate gradients with the product Σ a b, not Σ a* b (van der Vorst & Melissen, IEEE Trans. Magn. 26,
        1990), preconditioned by the real cycle. It begins from what solutions of problems `like` this one can be
        combined to: y with (Vᵀ A V) y = Vᵀ f.

        Raises
        ------
        SolveError
            When it does not settle.
        """
        own = csr_matrix(matrix[self.free][:, self.free])
        A, f = Product(own), load[self.free].astype(complex)
        out = np.zeros(load.size, dtype=complex)
        aim = tolerance * np.linalg.norm(f)
        x: Any = _combined(own, f, [v[self.free] for v in like])
        r: Any = f - A @ x
        p: Any = np.zeros_like(f)
        last = 1.0 + 0.0j
        for count in range(_MOST):
            if np.linalg.norm(r) <= aim:
                self.iterations = count
                out[self.free] = x
                return out
            z: Any = self._cycle(r.real) + 1j * self._cycle(r.imag)
            rho = complex(r @ z)
            p = z + (rho / last if count else 0.0) * p
            q = A @ p
            step = rho / complex(p @ q)
            x, r, last = x + step * p, r - step * q, rho
        raise SolveError(f"the 3-D field with eddy currents did not settle in {_MOST} iterations; try another "
                         "--quality")


def _combined(A: csr_matrix, f: Array, like: Sequence[Array]) -> Array:
    """V y with (Vᵀ A V) y = Vᵀ f; 0 of no vectors."""
    V = np.array([v / size for v in like if (size := np.linalg.norm(v)) > 0]).reshape(-1, f.size).T
    y, *_ = np.linalg.lstsq(V.T @ (A @ V), V.T @ f, rcond=1e-12)
    return np.asarray(V @ y)
