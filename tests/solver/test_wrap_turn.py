"""The cell of one turn: known values, an exact limit, convergence, what core and slope do, the band."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.solver.wrap_turn import _solve, wrap_susceptibility

MESH = 3e-4  # between the mesh in use and one twice as fine
QUOTED = 0.06  # the reference values are given as "about"


@pytest.mark.parametrize(("gap", "expected"), [(0.01, 19.0), (0.05, 9.6)])
@pytest.mark.parametrize("core_mu", [1.0, 100.0])
def test_reference_stacks(gap: float, expected: float, core_mu: float) -> None:
    found = wrap_susceptibility(100.0, gap, 0.3, core_mu=core_mu, helix=False)
    assert found == pytest.approx(expected, rel=QUOTED)


def test_far_apart_wires_are_line_dipoles() -> None:
    """Row of cylinders, pitch p, radius a: M (1/χ_c − (πa/p)²/6) = H, χ_c = 2χ/(2 + χ).

    The next multipole enters with (a/p)⁶ < 3e-4.
    """
    chi, gap = 99.0, 0.5
    alone = 2 * chi / (2 + chi)
    row = 1 / (1 / alone - (np.pi * (1 - gap) / 2) ** 2 / 6)
    assert wrap_susceptibility(1 + chi, gap) == pytest.approx(row, rel=2e-3)


@pytest.mark.parametrize("gap", [0.001, 0.01, 0.1])
@pytest.mark.parametrize("curvature", [0.0, 0.4])
def test_mesh(gap: float, curvature: float) -> None:
    coarse, fine = (_solve(300.0, gap, curvature, 100.0, True, n) for n in (1, 2))
    assert coarse == pytest.approx(fine, rel=MESH)


def test_converges() -> None:
    values = [_solve(100.0, 0.02, 0.4, 100.0, True, n) for n in (1, 2, 4)]
    assert abs(values[1] - values[2]) < abs(values[0] - values[1]) / 4


def test_gap_acts_like_a_demagnetising_factor() -> None:
    """1/χ_eff − 1/χ changes by a few percent while χ changes tenfold."""
    factors = [1 / wrap_susceptibility(1 + chi, 0.02, helix=False) - 1 / chi for chi in (60.0, 600.0)]
    assert factors[0] == pytest.approx(factors[1], rel=0.05)
    assert factors[0] > factors[1]


def test_core_helps_a_little() -> None:
    """Flux between turns also crosses by the core: +1…5 %, and hardly more for μr 700 than for 20."""
    for gap, most in ((0.01, 0.03), (0.05, 0.06)):
        none, some, much = (wrap_susceptibility(100.0, gap, 0.3, core_mu=c) for c in (1.0, 20.0, 700.0))
        assert none < some < much < none * (1 + most)
        assert some == pytest.approx(much, rel=0.01)


@pytest.mark.parametrize("mu_r", [20.0, 100.0, 500.0])
def test_slope_adds_the_path_along_the_wire(mu_r: float) -> None:
    """χ_helix = χ_rings cos² + χ sin² of the slope at the mean radius."""
    gap, curvature = 0.02, 0.35
    sin2 = (curvature / np.pi / (1 - gap)) ** 2
    ring = wrap_susceptibility(mu_r, gap, curvature, helix=False)
    helix = wrap_susceptibility(mu_r, gap, curvature)
    assert helix == pytest.approx(ring * (1 - sin2) + (mu_r - 1) * sin2, rel=0.02)


def test_band_of_the_turn_gap() -> None:
    """Half a percent to five percent of the pitch, all of it "close wound": a factor over two and a half."""
    chi = [wrap_susceptibility(100.0, gap, 0.3, core_mu=100.0) for gap in (0.005, 0.01, 0.02, 0.05)]
    assert np.all(np.diff(chi) < 0)
    assert 24 < chi[0] < 27
    assert 9.5 < chi[-1] < 11


def test_limits() -> None:
    assert wrap_susceptibility(1.0, 0.01) == 0.0
    assert wrap_susceptibility(1.001, 0.01) == pytest.approx(0.001, rel=1e-3)
    assert wrap_susceptibility(100.0, 0.0) == wrap_susceptibility(100.0, 0.001)
