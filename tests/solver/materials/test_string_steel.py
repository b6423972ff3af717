"""String steel: limits of the laws, derivatives, the reversible slope."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.geometry.errors import CaseError
from stringflux.solver.constants import MU0
from stringflux.solver.materials import StringSteel, find_material
from stringflux.solver.materials.string_steel import langevin

LAWS = ["langevin", "frohlich", "linear"]


def wire(law: str = "langevin") -> StringSteel:
    saturation = float("inf") if law == "linear" else 1.55e6
    return StringSteel(
        name="test",
        saturation=saturation,
        chi_initial=700.0,
        chi_reversible=90.0,
        law=law,  # type: ignore[arg-type]
    )


def test_langevin_function() -> None:
    """Small x: x/3 − x³/45; large x: 1 − 1/x; L(1) = coth 1 − 1."""
    L, dL = langevin(np.array([0.0, 1e-3, 1.0, 1e3, 1e8]))
    assert L[0] == 0.0
    assert dL[0] == pytest.approx(1 / 3)
    assert L[1] == pytest.approx(1e-3 / 3 - 1e-9 / 45, rel=1e-12)
    assert L[2] == pytest.approx(0.31303528549933130, rel=1e-14)
    assert L[3] == pytest.approx(1 - 1e-3, rel=1e-12)
    assert dL[3] == pytest.approx(1e-6, rel=1e-9)
    assert L[4] == pytest.approx(1 - 1e-8, rel=1e-15)


def test_series_meets_the_formula() -> None:
    e = 1e-9
    L, dL = langevin(np.array([0.05 - e, 0.05 + e]))
    assert L[1] - L[0] == pytest.approx(2 * e / 3, rel=2e-2)
    assert dL[1] == pytest.approx(dL[0], rel=1e-9)


@pytest.mark.parametrize("law", LAWS)
def test_initial_slope_symmetry_and_derivative(law: str) -> None:
    m = wire(law)
    M, slope = m.magnetisation(0.0)
    assert M == 0.0
    assert slope == pytest.approx(700.0)
    h = np.concatenate([np.geomspace(1.0, 1e6, 61), -np.geomspace(1.0, 1e6, 61)])
    M, slope = m.magnetisation(h)
    np.testing.assert_allclose(m.magnetisation(-h)[0], -M)
    e = 1e-5 * np.abs(h)
    difference = (m.magnetisation(h + e)[0] - m.magnetisation(h - e)[0]) / (2 * e)
    np.testing.assert_allclose(slope, difference, rtol=1e-4, atol=1e-5 * 700)
    assert np.all(slope > 0)


@pytest.mark.parametrize("law", ["langevin", "frohlich"])
def test_saturates(law: str) -> None:
    m = wire(law)
    M = m.magnetisation(np.geomspace(1.0, 1e9, 101))[0]
    assert np.all(np.diff(M) > 0)
    assert M[-1] == pytest.approx(1.55e6, rel=1e-5)
    assert np.all(M < 1.55e6)


def test_frohlich_half_way() -> None:
    """M = Ms/2 where χ₀ H = Ms."""
    m = wire("frohlich")
    assert m.magnetisation(1.55e6 / 700)[0] == pytest.approx(1.55e6 / 2)


def test_reversible() -> None:
    m = wire()
    np.testing.assert_allclose(
        m.reversible(np.array([0.0, 0.775e6, -0.775e6, 1.55e6, 2e6])), [90, 67.5, 67.5, 0, 0]
    )
    assert wire("linear").reversible(1e5) == 90.0


def test_shipped_wires() -> None:
    steel = find_material("string-steel")
    assert isinstance(steel, StringSteel)
    assert steel.polarisation == pytest.approx(1.95)
    assert steel.saturation == pytest.approx(1.95 / MU0)
    assert steel.chi_reversible_range == (50.0, 150.0)
    nickel = find_material("string-nickel")
    assert isinstance(nickel, StringSteel)
    assert nickel.polarisation == pytest.approx(0.61)
    bronze = find_material("string-bronze")
    assert isinstance(bronze, StringSteel)
    assert np.all(bronze.magnetisation(np.linspace(-1e6, 1e6, 5))[0] == 0)
    for name in ("string-steel", "string-nickel-steel", "string-nickel", "string-stainless", "string-bronze"):
        found = find_material(name)
        assert isinstance(found, StringSteel)
        h, b = found.curve_points(40)
        assert h.shape == b.shape == (40,)
        assert np.all(np.diff(h) > 0)
        assert np.all(np.diff(b) > 0)


@pytest.mark.parametrize(
    ("key", "value", "word"),
    [
        ("law", "cubic", "langevin, frohlich, linear or table"),
        ("law", "table", "goes with the law"),
        ("saturation", -1.0, "saturation"),
        ("saturation", float("inf"), "saturation"),
        ("chi_initial", -1.0, "susceptibility"),
        ("chi_reversible", 701.0, "must not exceed"),
        ("density", 0.0, "density"),
    ],
)
def test_impossible_numbers_are_refused(key: str, value: object, word: str) -> None:
    good = {"name": "mine", "saturation": 1.5e6, "chi_initial": 700.0, "chi_reversible": 90.0}
    with pytest.raises(CaseError, match=word):
        StringSteel(**{**good, key: value})  # type: ignore[arg-type]
