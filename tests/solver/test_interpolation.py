"""Points and weights: polynomials come back to round-off, many nodes do no harm."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.geometry.arrays import Array
from stringflux.solver.interpolation import barycentric, chebyshev, gauss, lagrange


def test_chebyshev_points_are_the_zeros_of_their_polynomial() -> None:
    x = chebyshev(2.0, 5.0, 7)
    assert np.all(np.diff(x) > 0)
    assert 2.0 < x[0] < x[-1] < 5.0
    assert np.polynomial.chebyshev.Chebyshev.basis(7, domain=[2.0, 5.0])(x) == pytest.approx(np.zeros(7), abs=1e-13)


@pytest.mark.parametrize("weights", [lagrange, barycentric])
def test_a_polynomial_is_its_own_interpolant(weights: object) -> None:
    def p(x: Array) -> Array:
        return 1.0 - 2.0 * x + 3.0 * x**4

    assert callable(weights)
    nodes, x = chebyshev(-1.0, 2.0, 5), np.linspace(-1.2, 2.2, 9)
    assert weights(nodes, x) @ p(nodes) == pytest.approx(p(x), rel=1e-12)
    assert weights(nodes, nodes) == pytest.approx(np.eye(5), abs=1e-14)


def test_many_nodes_keep_their_digits() -> None:
    """60 Chebyshev points give Runge's function on −1 … 1 within its own theory: (0.2 + √1.04)^−60 = 6.7e-6."""
    nodes, x = chebyshev(-1.0, 1.0, 60), np.linspace(-1.0, 1.0, 501)
    error = barycentric(nodes, x) @ (1 / (1 + 25 * nodes**2)) - 1 / (1 + 25 * x**2)
    assert 1e-7 < float(np.abs(error).max()) < 2 * 6.7e-6


def test_gauss_points_integrate_polynomials_of_degree_2n_minus_1() -> None:
    x, w = gauss(4)
    assert w @ x**7 == pytest.approx(1 / 8, rel=1e-14)
    assert w @ x**8 != pytest.approx(1 / 9, rel=1e-6)
