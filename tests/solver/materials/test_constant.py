"""One permeability: the same at every B, for bias and signal."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.geometry.errors import CaseError
from stringflux.solver.constants import NU0
from stringflux.solver.materials import ConstantPermeability

PLAIN = ConstantPermeability(name="plain", mu_r=500.0)


def test_the_same_at_every_bias() -> None:
    nu, dnu = PLAIN.reluctivity(np.array([0.0, 1.0, 4.0]))
    np.testing.assert_allclose(nu, NU0 / 500)
    assert np.all(dnu == 0)
    h, slope = PLAIN.static(np.array([0.0, 2.0]))
    np.testing.assert_allclose(h, [0.0, 2.0 * NU0 / 500])
    np.testing.assert_allclose(slope, NU0 / 500)
    np.testing.assert_allclose(PLAIN.reversible(np.array([0.0, 2.0])), 500.0)
    assert PLAIN.mu_reversible_range == (500.0, 500.0)


def test_only_what_differs_from_air_is_magnetic() -> None:
    assert PLAIN.magnetic
    assert not ConstantPermeability(name="brass", mu_r=1.0).magnetic


@pytest.mark.parametrize("mu_r", [0.5, float("inf"), float("nan")])
def test_none_below_that_of_air(mu_r: float) -> None:
    with pytest.raises(CaseError, match="at least 1"):
        ConstantPermeability(name="plain", mu_r=mu_r)
