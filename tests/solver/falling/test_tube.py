"""The brake of a tube against published closed forms, a published measurement, and magpylib."""

from __future__ import annotations

import magpylib
import numpy as np
import pytest
from scipy.integrate import quad

from rigs.fields.falling import MATERIALS, rod
from stringflux.solver.constants import MU0, NU0
from stringflux.solver.falling.tube import tube_brake

COPPER = 5.8e7


@pytest.mark.slow
def test_a_small_magnet_in_a_thin_wall_is_a_dipole() -> None:
    """k = 45 μ0² m² σ δ/(1024 a⁴), W. M. Saslow, Am. J. Phys. 60 (1992) 693 (memory); the integral done again."""
    a, thick = 10e-3, 0.1e-3
    found = tube_brake(rod("rigid", 1e-3, 1e-3), a - thick / 2, a + thick / 2, COPPER, MATERIALS).whole
    m = NU0 * np.pi / 4 * 1e-9
    closed = 45 * MU0**2 * m**2 * COPPER * thick / (1024 * a**4)
    again = COPPER * 2 * np.pi * a * thick * quad(
        lambda z: (MU0 / (4 * np.pi) * 3 * m * a * z / (a * a + z * z) ** 2.5) ** 2, -1.0, 1.0, points=[-a, 0, a],
        epsabs=0, limit=200)[0]
    assert again == pytest.approx(closed, rel=1e-6)
    assert found == pytest.approx(closed, rel=1.5e-3)


@pytest.mark.slow
def test_a_long_thin_magnet_is_two_poles() -> None:
    """k = μ0² q² σ δ f(d/a)/(8π a²), q = M π R²: Levin, da Silveira, Rizzato, Am. J. Phys. 74 (2006) 815 (memory).

    f(x) = ∫ [(1 + y²)^{−3/2} − (1 + (y + x)²)^{−3/2}]² dy, from the flux of two poles through a ring.
    """
    a, thick, radius, length = 10e-3, 0.2e-3, 0.6e-3, 15e-3
    found = tube_brake(rod("rigid", 2 * radius, length), a - thick / 2, a + thick / 2, COPPER, MATERIALS).whole
    q, x = NU0 * np.pi * radius**2, length / a
    f = quad(lambda y: ((1 + y * y) ** -1.5 - (1 + (y + x) ** 2) ** -1.5) ** 2, -np.inf, np.inf)[0]
    assert found == pytest.approx(MU0**2 * q**2 * COPPER * thick * f / (8 * np.pi * a**2), rel=3e-3)


def test_a_wide_magnet_close_to_a_thick_wall_is_magpylibs() -> None:
    inner, outer = 6e-3, 7.5e-3
    found = tube_brake(rod("rigid", 10e-3, 20e-3), inner, outer, COPPER, MATERIALS)
    peer = magpylib.magnet.Cylinder(polarization=(0, 0, 1.0), dimension=(10e-3, 20e-3))
    g, w = np.polynomial.legendre.leggauss(12)
    r = (inner + outer) / 2 + (outer - inner) / 2 * g
    z = np.linspace(-60e-3, 60e-3, 2401)
    R, Z = np.meshgrid(r, z, indexing="ij")
    b = np.asarray(peer.getB(np.stack([R, 0 * R, Z], axis=-1)))[..., 0]
    per_radius = np.trapezoid(b * b, z, axis=1) * 2 * np.pi * r
    assert found.whole == pytest.approx(COPPER * float(w @ per_radius) * (outer - inner) / 2, rel=1e-4)


def test_a_published_measurement() -> None:
    """A magnet of SmCo, radius 6 mm, height 10 mm, 9.3 g, in copper 6.5/7.5 mm: k = 1.12 kg/s, 81 mm/s.

    J. Íñiguez et al., "Study of the conductivity of a metallic tube by analysing the damped fall of a magnet", Eur.
    J. Phys. 25 (2004) 593, as a problem sheet quotes it (authors' names: memory). Neither the grade nor the copper's
    conductivity is told, each known to some 5 % of k.
    """
    found = tube_brake(rod("smco-5", 12e-3, 10e-3), 6.5e-3, 7.5e-3, COPPER, MATERIALS).whole
    assert found == pytest.approx(1.12, rel=0.1)


def test_a_tube_that_ends_brakes_half_at_its_end() -> None:
    brake = tube_brake(rod("ndfeb-38", 10e-3, 20e-3), 6e-3, 7.5e-3, COPPER, MATERIALS)
    assert brake.at(np.array([-0.2]), -0.5, 0.0)[0] == pytest.approx(brake.whole, rel=1e-9)
    assert brake.at(np.array([0.0]), -0.5, 0.0)[0] == pytest.approx(brake.whole / 2, rel=2e-3)
    assert brake.at(np.array([0.2]), -0.5, 0.0)[0] == 0.0
    assert brake.recession == pytest.approx(2 / (MU0 * COPPER * 1.5e-3))
    assert brake.off(0.1 * brake.recession) == pytest.approx(0.01, rel=0.02)
