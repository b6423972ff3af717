"""Rayleigh's law: its loop, its area, its loss angle, and how far what a material may lose goes."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.geometry.errors import CaseError
from stringflux.solver.constants import MU0
from stringflux.solver.materials import ConstantPermeability, find_material
from stringflux.solver.materials.rayleigh import RayleighLaw, lossiest

IRON = RayleighLaw(mu_initial=200.0, constant=0.31)
TOP = 40.0  # A/m


def test_area_is_that_of_the_loop() -> None:
    h = np.linspace(-TOP, TOP, 20_001)
    falling, rising = IRON.flux(h, TOP), -IRON.flux(-h, TOP)
    assert falling[-1] == rising[-1] == pytest.approx(MU0 * (200 + 0.31 * TOP) * TOP)  # both end at the tip
    assert np.trapezoid(falling - rising, h) == pytest.approx(float(IRON.area(TOP)), rel=1e-6)


def test_loss_angle_is_that_of_the_first_harmonic() -> None:
    """H = Ĥ sin θ; the loop falls from θ = 90° to 270°."""
    turn = 2 * np.pi * (np.arange(20_000) + 0.5) / 20_000
    h = TOP * np.sin(turn)
    b = np.where(np.cos(turn) < 0, IRON.flux(h, TOP), -IRON.flux(-h, TOP))
    first = np.mean(b * np.exp(-1j * turn)) * 2j  # of Im e^{iθ}
    assert -first.imag / first.real == pytest.approx(float(IRON.loss_tangent(TOP)), rel=1e-6)
    # energy: W = π μ'' Ĥ²
    assert float(IRON.area(TOP)) == pytest.approx(-np.pi * first.imag * TOP, rel=1e-6)


def test_loss_goes_with_the_amplitude_and_its_cube() -> None:
    small = np.array([1e-3, 1e-2])
    np.testing.assert_allclose(IRON.area(small), IRON.area(1.0) * small**3, rtol=1e-12)
    tangent = IRON.loss_tangent(small)
    assert tangent[1] / tangent[0] == pytest.approx(10, rel=1e-4)


def test_what_a_material_may_lose() -> None:
    magnet = find_material("alnico-5")
    assert lossiest(magnet).loss_tangent(magnet.coercivity) == pytest.approx(4 / (3 * np.pi) * 1.85 / 4.7)
    assert lossiest(find_material("steel-1008")).constant > IRON.constant  # annealed iron
    assert float(lossiest(ConstantPermeability(name="n", mu_r=500.0)).loss_tangent(1e3)) == 0.0


@pytest.mark.parametrize(("mu", "nu"), [(0.5, 0.1), (200.0, -1.0), (float("nan"), 0.1), (200.0, float("inf"))])
def test_what_cannot_be(mu: float, nu: float) -> None:
    with pytest.raises(CaseError, match="Rayleigh's law: received"):
        RayleighLaw(mu_initial=mu, constant=nu)
