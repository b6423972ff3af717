r"""Factors of sparse symmetric matrices.

Real positive ones go to CHOLMOD, by supernodes (cvxopt carries it); all others, and all where cvxopt is missing, to
SuperLU with the diagonal as pivots. Without that last word SuperLU looks for other pivots and fills up: one mesh's
matrix took 54 s in place of 0.04.

References
----------
Y. Chen, T. A. Davis, W. W. Hager, S. Rajamanickam, "Algorithm 887: CHOLMOD, supernodal sparse Cholesky factorization
and update/downdate", *ACM Trans. Math. Softw.* 35 (2008) 22. J. W. Demmel, S. C. Eisenstat, J. R. Gilbert, X. S. Li,
J. W. H. Liu, "A supernodal approach to sparse partial pivoting", *SIAM J. Matrix Anal. Appl.* 20 (1999) 720 (both
from memory).
"""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
from scipy.sparse import csc_matrix, tril
from scipy.sparse.linalg import splu

try:
    from cvxopt import cholmod, spmatrix
    from cvxopt import matrix as dense
except ImportError:  # pragma: no cover - a system without wheels of it
    cholmod = None

Numbers = npt.NDArray[np.inexact]


class Factor(Protocol):
    """A factored matrix."""

    def solve(self, load: Numbers) -> Any:
        """x of A x = f, an array for loads (n,) or (n, k)."""


def factor(matrix: Any, instead_of: Factor | None = None) -> Factor:
    """The factor of a symmetric sparse matrix, of which the lower triangle alone may be read.

    Parameters
    ----------
    matrix : sparse matrix (n, n)
        With pivots on its diagonal: positive, or complex with a positive real part.
    instead_of : Factor, optional
        One of a matrix with the same pattern, as of the last step of Newton's method. Its memory and its order of
        elimination are taken over, so that it is of no use afterwards.

    Examples
    --------
    >>> from scipy.sparse import diags
    >>> factor(diags([4.0, 16.0])).solve(np.array([1.0, 1.0])).tolist()
    [0.25, 0.0625]
    """
    if cholmod is not None and matrix.dtype == np.float64:
        try:
            return Cholesky(matrix, instead_of if isinstance(instead_of, Cholesky) else None)
        except ArithmeticError:  # not positive
            pass
    return Elimination(matrix)


class Cholesky:
    """A = LLᵀ by CHOLMOD.

    Raises
    ------
    ArithmeticError
        When the matrix is not positive.
    """

    def __init__(self, matrix: Any, instead_of: Cholesky | None = None) -> None:
        self._pattern: tuple[Numbers, Numbers]
        self._lower: Any
        self._factor: Any
        lower = tril(matrix, format="csc")
        lower.sort_indices()
        values = lower.data.astype(float)  # gmsh's arrays name their byte order, which cvxopt doesn't read
        if instead_of is not None and _same(lower, instead_of._pattern):
            self._pattern, self._lower, self._factor = instead_of._pattern, instead_of._lower, instead_of._factor
            self._lower.V = dense(values)
        else:
            columns = np.repeat(np.arange(lower.shape[1]), np.diff(lower.indptr))
            self._pattern = lower.indptr, lower.indices
            self._lower = spmatrix(dense(values), dense(lower.indices.astype(np.int64)), dense(columns),
                                   lower.shape)
            self._factor = cholmod.symbolic(self._lower)
        cholmod.numeric(self._lower, self._factor)

    def solve(self, load: Numbers) -> Any:
        """x of A x = f, for loads (n,) or (n, k)."""
        if np.iscomplexobj(load):
            return np.asarray(self.solve(load.real) + 1j * self.solve(load.imag))
        x = dense(np.array(load, dtype=float, order="F"))
        cholmod.solve(self._factor, x)
        return np.array(x).reshape(load.shape)


def _same(lower: csc_matrix, pattern: tuple[Numbers, Numbers]) -> bool:
    return np.array_equal(lower.indptr, pattern[0]) and np.array_equal(lower.indices, pattern[1])


class Elimination:
    """A = LU by SuperLU, real or complex.

    Parameters
    ----------
    matrix : sparse matrix
    ordered : bool
        Its rows stand in a good order already, that of another one's `order`.

    """

    def __init__(self, matrix: Any, ordered: bool = False) -> None:
        self._lu = splu(csc_matrix(matrix), permc_spec="NATURAL" if ordered else "MMD_AT_PLUS_A",
                        diag_pivot_thresh=0.0, relax=1, panel_size=1, options={"SymmetricMode": True})

    @property
    def order(self) -> npt.NDArray[np.int64]:
        """The rows (n,), as they are eliminated."""
        return np.argsort(self._lu.perm_c)

    def solve(self, load: Numbers) -> Any:
        """x of A x = f, for loads (n,) or (n, k)."""
        return np.asarray(self._lu.solve(load))
