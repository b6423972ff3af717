"""Magnets and conductors off 20 °C."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stringflux.geometry.errors import CaseError
from stringflux.solver.constants import MU0
from stringflux.solver.materials import (
    ConstantPermeability,
    MagnetCurve,
    SoftCurve,
    at_temperature,
    find_material,
    is_magnet,
    known_materials,
    linear_magnet,
)
from stringflux.solver.materials.temperature import knee, remanence_change
from stringflux.solver.materials.thermal import Thermal

# %/K of Br: a public library of materials, quoted in docs/sources.md 3.3; alnico: a maker's brochure, 2.3
PUBLISHED = {"ndfeb-38": -0.10, "smco-5": -0.04, "sm2co17": -0.03, "ceramic-8": -0.20, "alnico-5": -0.02}
MAGNETS = [name for name in known_materials() if is_magnet(find_material(name))]


def magnet(name: str) -> MagnetCurve:
    return at(name, 20.0)


def at(name: str, celsius: float) -> MagnetCurve:
    found = at_temperature(find_material(name), celsius)
    assert isinstance(found, MagnetCurve)
    return found


@pytest.mark.parametrize("name", ["alnico-2", "alnico-5"])
def test_a_loop_shrinks_as_a_whole(name: str) -> None:
    """Every point of the curve by the same share, so that the field of a magnet in air does too."""
    cold, warm, share = magnet(name), at(name, 70.0), 1 - 50 * 2e-4
    b = np.linspace(0.0, cold.remanence, 200)
    np.testing.assert_allclose(warm.major(share * b)[0], share * cold.major(b)[0], rtol=1e-9, atol=1e-6)


@pytest.mark.parametrize("name", known_materials())
def test_nothing_changes_at_20(name: str) -> None:
    material = find_material(name)
    assert at_temperature(material, 20.0) is material


@pytest.mark.parametrize("name", PUBLISHED)
def test_remanence_falls_as_published(name: str) -> None:
    cold, warm = magnet(name), at(name, 70.0)
    assert warm.remanence / cold.remanence - 1 == pytest.approx(50 * PUBLISHED[name] / 100)
    assert (warm.mu_recoil, warm.mu_transverse) == (cold.mu_recoil, cold.mu_transverse)


@pytest.mark.parametrize("name", MAGNETS)
@pytest.mark.parametrize("celsius", [-50.0, 80.0])
def test_every_magnet_is_one_at_both_ends(name: str, celsius: float) -> None:
    """The curve still rises, and J never does on demagnetising: `check_magnet` looks when it is built."""
    there = at(name, celsius)
    assert there.coercivity <= magnet(name).coercivity * 1.15
    low, nominal, high = remanence_change(magnet(name), celsius)
    assert low <= nominal <= high
    assert there.remanence == pytest.approx(magnet(name).remanence * (1 + nominal))


def test_the_knee_comes_nearer_and_never_goes_away() -> None:
    """Ferrite when cold, neodymium when warm; the other way it stays where it has been at 20 °C."""
    ferrite, rare = magnet("ceramic-5"), magnet("ndfeb-38")
    cold = knee(at("ceramic-5", -20.0))
    assert cold is not None
    assert cold > (knee(ferrite) or 0.0) * 1.3
    # −Hci(T) is met by J = 0: all fields of the steep line by 1 + βΔT
    h = at("ceramic-5", -20.0).major(np.linspace(-0.3, 0.4, 4000))[0]
    b = np.linspace(-0.3, 0.4, 4000)
    hci = -float(np.interp(0.0, b - MU0 * h, h))
    assert hci == pytest.approx(199e3 * (1 - 40 * 4e-3), rel=5e-3)
    near, nearer = knee(rare), knee(at("ndfeb-38", 70.0))
    assert near is not None
    assert nearer is not None
    assert nearer > near + 0.2
    warm = at("ceramic-5", 60.0)
    assert warm.coercivity == pytest.approx(ferrite.coercivity * (1 - 40 * 2e-3), rel=2e-3)


def test_conductors_have_more_resistance_when_warm() -> None:
    """IEC 60028: 0.393 %/K; brass and iron from memory, so only their signs."""
    copper, steel, air = (at_temperature(find_material(n), 70.0) for n in ("copper", "steel-1008", "air"))
    assert isinstance(copper, ConstantPermeability)
    assert isinstance(steel, SoftCurve)
    assert copper.resistivity == pytest.approx(1.724e-8 * (1 + 0.00393 * 50))
    assert steel.resistivity > find_material("steel-1008").resistivity
    assert air is find_material("air")
    assert at_temperature(find_material("string-steel"), 70.0) is find_material("string-steel")


def test_beyond_what_is_known_is_refused() -> None:
    with pytest.raises(CaseError, match="temperature: received 81 degC; what is known of 'ndfeb-38' holds from -50"):
        at_temperature(magnet("ndfeb-38"), 81.0)
    own = linear_magnet(name="mine", remanence=1.0, mu_recoil=1.05)
    with pytest.raises(CaseError, match=r"received 35 degC, but how 'mine' changes .* remanence_per_kelvin"):
        at_temperature(own, 35.0)
    assert math.isnan(remanence_change(own, 35.0)[1])
    told = linear_magnet(name="mine", remanence=1.0, mu_recoil=1.05, thermal=Thermal(remanence=-1e-3))
    warm = at_temperature(told, 30.0)
    assert isinstance(warm, MagnetCurve)
    assert warm.remanence == pytest.approx(0.99)
