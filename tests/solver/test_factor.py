"""Factors of sparse matrices: CHOLMOD's against SuperLU with its own choice of pivots."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.sparse import csc_matrix, diags, kron
from scipy.sparse.linalg import splu

from stringflux.solver import factor as home
from stringflux.solver.factor import Cholesky, Elimination, Factor, factor

_ROUNDING = 1e-11  # of a matrix whose values go over four decades


def laplace(n: int = 25, seed: int = 0) -> csc_matrix:
    """Conductances of a square grid, drawn over four decades."""
    rng = np.random.default_rng(seed)
    step = diags([-np.ones(n - 1), np.ones(n)], [-1, 0])
    across, up = kron(step, np.eye(n)), kron(np.eye(n), step)
    return csc_matrix(sum(g.T @ diags(10.0 ** rng.uniform(-2, 2, n * n)) @ g for g in (across, up)))


def loads(n: int, k: int = 3) -> Any:
    return np.random.default_rng(1).standard_normal((n, k))


def close(found: Factor, matrix: csc_matrix) -> bool:
    f = loads(matrix.shape[0])
    x = splu(matrix).solve(f)
    one, several = found.solve(f[:, 0].copy()), found.solve(f)
    assert one.shape == (len(f),)
    assert several.shape == f.shape
    size = float(np.abs(x).max())
    return bool(np.abs(several - x).max() < _ROUNDING * size and np.abs(one - x[:, 0]).max() < _ROUNDING * size)


@pytest.mark.parametrize("make", [factor, Cholesky, Elimination])
def test_a_real_matrix(make: Any) -> None:
    assert close(make(laplace()), laplace())


def test_a_real_positive_matrix_goes_to_cholmod() -> None:
    assert isinstance(factor(laplace()), Cholesky)


def test_without_cholmod(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(home, "cholmod", None)
    found = factor(laplace())
    assert isinstance(found, Elimination)
    assert close(found, laplace())


def test_one_in_place_of_another() -> None:
    """The next matrix of a pattern; one of another pattern begins anew."""
    first = factor(laplace())
    assert close(factor(laplace(seed=3), first), laplace(seed=3))
    other = csc_matrix(laplace() @ laplace(seed=5) @ laplace())
    assert isinstance(factor(laplace(n=10), factor(laplace())), Cholesky)
    assert np.abs(factor(other, factor(laplace())).solve(other @ np.ones(625)) - 1).max() < 1e-4  # condition 1e12


def test_a_complex_matrix_and_complex_loads() -> None:
    matrix = csc_matrix(laplace() + 2j * diags(np.linspace(0, 1, 625)))
    f = loads(625) + 1j * loads(625)[:, ::-1]
    x = splu(matrix).solve(f)
    assert np.abs(factor(matrix).solve(f) - x).max() < _ROUNDING * np.abs(x).max()
    real = splu(laplace())
    assert factor(laplace()).solve(f) == pytest.approx(real.solve(f.real) + 1j * real.solve(f.imag.copy()), rel=1e-9)


def test_what_is_not_positive_is_solved_all_the_same() -> None:
    matrix = csc_matrix(laplace() - 0.5 * diags(np.ones(625)))
    with pytest.raises(ArithmeticError):
        Cholesky(matrix)
    assert close(factor(matrix), matrix)
