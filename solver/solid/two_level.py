r"""One cycle of two levels: P2 smoothed by Chebyshev polynomials, P1 on the same mesh solved by its factor.

With D the diagonal and λ the largest eigenvalue of D⁻¹A, the smoother is the polynomial of DEGREE in D⁻¹A that is
least over λ REACH … λ. It is matrix times vector and nothing else, in single precision: a preconditioner needs no
more. The cycle is symmetric, as conjugate gradients ask.

References
----------
M. Adams, M. Brezina, J. Hu, R. Tuminaro, "Parallel multigrid smoothing: polynomial versus Gauss–Seidel",
*J. Comput. Phys.* 188 (2003) 593 (memory).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_matrix

from stringflux.geometry.arrays import Array

from ..factor import Factor, factor
from ..products import Product

DEGREE, REACH = 3, 0.1
_SAFE = 1.1  # times the estimate of λ, which is low by a few per cent
_ESTIMATES = 12


class TwoLevel:
    """An approximate inverse of a symmetric positive matrix of P2 functions.

    Parameters
    ----------
    matrix : csr_matrix (n, n)
    P : csr_matrix (n, vertices)
        P2 unknowns from P1's.
    below : csr_matrix, optional
        Pᵀ A P where it is known.
    instead_of : TwoLevel, optional
        Of a matrix of the same pattern and much like this one; of no use afterwards.
    """

    _matrix: Product

    def __init__(self, matrix: csr_matrix, P: csr_matrix, below: csr_matrix | None = None,
                 instead_of: TwoLevel | None = None) -> None:
        below = csr_matrix(P.T @ matrix @ P) if below is None else below
        self._below: Factor = factor(below, None if instead_of is None else instead_of._below)
        self._matrix = Product(csr_matrix((matrix.data.astype(np.float32), matrix.indices, matrix.indptr),
                                          shape=matrix.shape))
        self._P, self._R = P.astype(np.float32), csr_matrix(P.T).astype(np.float32)
        self._inverse = (1 / matrix.diagonal()).astype(np.float32)
        top = _SAFE * self._largest()
        self._middle, self._half = top * (1 + REACH) / 2, top * (1 - REACH) / 2

    def __call__(self, residual: npt.NDArray[np.floating]) -> Array:
        """About A⁻¹ r, for r (n,) or (n, k)."""
        size = np.max(np.abs(residual), axis=0, initial=0.0)
        size = np.where(size > 0, size, 1.0)
        r = (residual / size).astype(np.float32)  # single precision has no room for moments of so small things
        x = self._smoothed(r)
        x += self._P @ self._below.solve(self._R @ (r - self._matrix @ x)).astype(np.float32)
        x += self._smoothed(r - self._matrix @ x)
        return np.asarray(size * x.astype(float))

    def _smoothed(self, r: Any) -> Any:
        ratio = self._middle / self._half
        inverse = self._inverse if r.ndim == 1 else self._inverse[:, None]
        rho = 1 / ratio
        step = inverse * r * np.float32(1 / self._middle)
        out = step.copy()
        for _ in range(DEGREE - 1):
            r = r - self._matrix @ step
            before, rho = rho, 1 / (2 * ratio - rho)
            step = np.float32(rho * before) * step + np.float32(2 * rho / self._half) * (inverse * r)
            out += step
        return out

    def _largest(self) -> float:
        """λ by the power method, from a vector that is rough everywhere. (One from the vector of a matrix like this
        one misses what is new in it.)"""
        v = np.cos(1e4 * np.arange(self._inverse.size, dtype=float) ** 1.5).astype(np.float32)
        size = 1.0
        for _ in range(_ESTIMATES):
            v = self._inverse * (self._matrix @ v)
            size = float(np.linalg.norm(v))
            v /= np.float32(size)
        return size


def from_vertices(vertices: int, ends: npt.NDArray[np.int64]) -> csr_matrix:
    """P2 unknowns (vertices, then edges with these ends (2, k)) from P1's: an edge's middle takes the mean of its
    ends, exactly."""
    total = vertices + ends.shape[1]
    rows = np.concatenate([np.arange(vertices), np.repeat(np.arange(vertices, total), 2)])
    cols = np.concatenate([np.arange(vertices), ends.T.ravel()])
    values = np.concatenate([np.ones(vertices), np.full(2 * (total - vertices), 0.5)])
    return csr_matrix((values, (rows, cols)), shape=(total, vertices))
