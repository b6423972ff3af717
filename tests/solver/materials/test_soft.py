"""Soft steels: published curves, derivatives, saturation, the reversible permeability."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.geometry.errors import CaseError
from stringflux.solver.constants import MU0, NU0
from stringflux.solver.materials import ConstantPermeability, SoftCurve, find_material, soft_from_points

STEELS = ["steel-1008", "steel-12l14", "steel-test-13"]

# TEAM workshop problem 13 (Nakata & Fujiwara, COMPEL 11(3), 1992), quoted: B T, H A/m
TEAM_13 = [
    (0.0025, 16), (0.05, 143), (0.2, 210), (0.5, 247), (1.0, 342), (1.3, 509), (1.5, 933), (1.7, 4993),
    (1.8, 9423),
]  # fmt: skip

BUMP = 1.5  # the chords of the published table are not quite concave about 1.75 T

# Roschke, VDI Fortschritt-Berichte 21/293 (2000), quoted: μi, Bm, ca, cb, n
ROSCHKE = {"steel-1008": (200, 1.17, 8100, 2.59, 10), "steel-12l14": (10, 0.94, 5900, 4.19, 6.4)}


def steel(name: str) -> SoftCurve:
    found = find_material(name)
    assert isinstance(found, SoftCurve)
    return found


def test_team_13_points() -> None:
    m = steel("steel-test-13")
    for B, H in TEAM_13:
        assert m.reluctivity(B * B)[0] * B == pytest.approx(H, rel=1e-9)


def test_team_13_above_the_knee() -> None:
    """B = μ0 H − 2.380e-10 H² + 2.327e-5 H + 1.590, then B = μ0 H + 2.16 (same source)."""
    m = steel("steel-test-13")
    for H in (11e3, 18e3, 33e3, 45e3):
        B = MU0 * H - 2.380e-10 * H**2 + 2.327e-5 * H + 1.590
        assert m.static(B)[0] == pytest.approx(H, rel=0.01)
    for B in (2.3, 2.6, 3.0):
        assert m.static(B)[0] == pytest.approx((B - 2.16) / MU0, rel=1e-3)


@pytest.mark.parametrize("name", ROSCHKE)
def test_roschke(name: str) -> None:
    mu_i, Bm, ca, cb, n = ROSCHKE[name]
    B = np.array([0.1, 0.5, 1.0, 1.5, 1.79])
    b = B / Bm
    mu = 1 + (mu_i - 1 + ca * b) / (1 + cb * b + b**n)
    np.testing.assert_allclose(steel(name).reluctivity(B * B)[0], NU0 / mu, rtol=1e-12)


@pytest.mark.parametrize("name", STEELS)
def test_saturates_below_iron(name: str) -> None:
    m = steel(name)
    B = np.linspace(0.0, 6.0, 4001)
    H = m.static(B)[0]
    J = B - MU0 * H
    assert np.all(np.diff(H) > 0)
    assert np.all(np.diff(J) > -1e-9)
    assert J[-1] == pytest.approx(m.saturation, rel=1e-5)
    assert J.max() < 2.17  # iron; TEAM 13's 2.16 is the largest


@pytest.mark.parametrize("name", STEELS)
def test_derivative_of_reluctivity(name: str) -> None:
    m = steel(name)
    b2 = np.linspace(0.01, 2.6, 157) ** 2
    e = 1e-6 * b2
    nu, dnu = m.reluctivity(b2)
    difference = (m.reluctivity(b2 + e)[0] - m.reluctivity(b2 - e)[0]) / (2 * e)
    np.testing.assert_allclose(dnu, difference, rtol=2e-3, atol=1e-4 * np.max(np.abs(dnu)))
    assert np.all(nu + 2 * b2 * dnu > 0)  # dH/dB


@pytest.mark.parametrize("name", [*STEELS, "air"])
def test_finite_at_zero_and_any_shape(name: str) -> None:
    m = find_material(name)
    assert isinstance(m, SoftCurve | ConstantPermeability)
    nu, dnu = m.reluctivity(np.zeros((2, 3, 1)))
    assert nu.shape == dnu.shape == (2, 3, 1)
    assert np.all(np.isfinite(nu) & (nu > 0) & np.isfinite(dnu))


@pytest.mark.parametrize("name", STEELS)
def test_reversible_permeability(name: str) -> None:
    m = steel(name)
    B = np.linspace(0.0, 3.0, 601)
    mu = m.reversible(B)
    assert mu[0] == m.mu_reversible
    assert np.all(np.diff(mu) <= BUMP)
    assert np.all(mu >= 1.0)
    steep = B > 1.0
    assert np.all(mu[steep] <= NU0 / m.static(B[steep])[1] + 1e-9)
    assert m.mu_reversible_range == (100.0, 300.0)
    assert mu[-1] < 1.1


def test_table_of_a_case() -> None:
    m = soft_from_points(name="mine", points=[(0, 0), (100, 0.5), (300, 1.0), (2000, 1.5), (20000, 1.9)])
    assert m.static(1.0)[0] == pytest.approx(300)
    assert m.mu_reversible == 200.0
    J_last = 1.9 - MU0 * 20000
    B = 4.0
    assert B - MU0 * m.static(B)[0] == pytest.approx(1.02 * J_last, rel=1e-3)
    soft = soft_from_points(name="mine", points=[(1000, 0.05), (10000, 0.3)])
    assert soft.mu_reversible == pytest.approx(0.05 / 1000 / MU0)
    assert (
        soft_from_points(name="mine", points=[(100, 0.5), (300, 1)], mu_reversible=150).mu_reversible == 150
    )


@pytest.mark.parametrize(
    ("points", "word"),
    [
        ([(100, 0.5)], "at least 2"),
        ([(100, 0.5), (200, 0.4), (300, 1.0)], "B must rise"),
        ([(-100, -0.5), (200, 0.4)], "must be positive"),
        ([(100, 0.5), (100, 0.6)], "B must rise"),
        ([(100, 0.5), (1e6, 0.6)], "less than μ0"),
        ([(100, 0.5), (float("inf"), 0.6)], "finite"),
    ],
)
def test_impossible_tables_are_refused(points: list[tuple[float, float]], word: str) -> None:
    with pytest.raises(CaseError, match=word) as caught:
        soft_from_points(name="mine", points=points)
    assert "'mine'" in str(caught.value)


def test_impossible_numbers_are_refused() -> None:
    with pytest.raises(CaseError, match="saturation"):
        soft_from_points(name="mine", points=[(100, 0.5), (1000, 1.5)], saturation=1.0)
    with pytest.raises(CaseError, match="reversible"):
        soft_from_points(name="mine", points=[(100, 0.5), (1000, 1.5)], mu_reversible=0.1)


def test_points_for_drawing() -> None:
    for name in STEELS:
        h, b = steel(name).curve_points(50)
        assert h.shape == b.shape == (50,)
        assert h[0] == b[0] == 0.0
