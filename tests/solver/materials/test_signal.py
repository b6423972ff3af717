"""What a signal meets: the forms of the solvers tell the same, and agree with a magnet's recoil and a steel."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stringflux.geometry.arrays import Array
from stringflux.solver.constants import MU0, NU0
from stringflux.solver.materials import BodyMaterial, ConstantPermeability, find_material, is_steel, known_materials
from stringflux.solver.materials.magnet import MagnetCurve
from stringflux.solver.materials.signal import (
    along_and_across,
    of_parts,
    out_of_section,
    permeability,
    reluctivity,
    shared_along_and_across,
    slope_with_bias,
)

STEEL = next(m for m in map(find_material, known_materials()) if is_steel(m))
MAGNET = find_material("alnico-5")
CONSTANT = ConstantPermeability(name="c", mu_r=80.0)
AXIS = (0.6, 0.8)  # x, z
B = np.array([[0.3, -0.2, 0.9], [0.1, 0.7, 0.0]])  # in the plane, T


def in_space(b: Array) -> Array:
    return np.stack([b[0], np.zeros_like(b[0]), b[1]])


@pytest.mark.parametrize("material", [MAGNET, STEEL, CONSTANT])
def test_the_reluctivity_of_a_section_is_the_inverse_of_the_tensor_in_space(material: BodyMaterial) -> None:
    mu = permeability(material, (AXIS[0], 0.0, AXIS[1]), in_space(B))
    nu = np.linalg.inv(np.moveaxis(mu, -1, 0)) * NU0
    xx, xz, zz = reluctivity(material, AXIS, B)
    for found, (i, j) in ((xx, (0, 0)), (xz, (0, 2)), (zz, (2, 2))):
        assert found == pytest.approx(nu[:, i, j], rel=1e-12, abs=1e-12 * NU0)


@pytest.mark.parametrize("material", [MAGNET, STEEL, CONSTANT])
def test_along_and_across_are_the_tensor_along_the_axis_and_beside_it(material: BodyMaterial) -> None:
    found = along_and_across(material, np.hypot(*B))
    mu = permeability(material, (0.0, 0.0, 1.0), in_space(B))
    assert mu[2, 2] == pytest.approx(np.broadcast_to(found.along, 3))
    assert mu[0, 0] == pytest.approx(np.broadcast_to(found.across, 3))
    chi = np.stack([mu[0, 0] - 1, 0 * mu[0, 0], mu[2, 2] - 1])
    assert out_of_section(material, chi) == pytest.approx(mu[1, 1] - 1)


def test_a_magnet_meets_its_recoil_line_or_what_its_grade_says() -> None:
    """μ along the axis is the slope of H(B) on the way back up from a lowest B, where a grade has no other value."""
    magnet = find_material("ceramic-8")
    assert isinstance(magnet, MagnetCurve)
    low, step = 0.3, 1e-3
    h = magnet.field(np.array([low, low + step]), b_low=np.array([low, low]))[0]
    recoil = step / (h[1] - h[0]) / MU0
    assert along_and_across(magnet, low).along == pytest.approx(recoil, rel=1e-9)
    told = along_and_across(replace(magnet, mu_reversible=1.02, mu_transverse=1.3), low)
    assert (told.along, told.across) == (1.02, 1.3)


def test_the_parts_of_a_pole_in_their_order() -> None:
    magnet, steel = of_parts((MAGNET, STEEL), (B, B))
    assert magnet == along_and_across(MAGNET, 0.0)
    assert np.array_equal(steel.along, STEEL.reversible(np.hypot(*B)))
    assert np.array_equal(steel.along, steel.across)
    assert steel.mean().along == pytest.approx(np.mean(steel.along))


def test_poles_that_differ_little_share_two_digits() -> None:
    assert shared_along_and_across(MAGNET, 0.7) == along_and_across(MAGNET, 0.7)
    shared = shared_along_and_across(STEEL, 0.5)
    assert shared.along == shared.across == float(f"{float(STEEL.reversible(0.5)):.2g}")
    assert shared.along == pytest.approx(float(STEEL.reversible(0.5)), rel=0.05)


def test_the_slope_with_the_bias() -> None:
    """Against differences of the permeability in either component of B."""
    b, step = np.array([[0.5], [0.8]]), 1e-4
    found = slope_with_bias(STEEL, b)
    assert found is not None
    for i in (0, 1):
        d = np.zeros_like(b)
        d[i] = step
        rise = STEEL.reversible(np.hypot(*(b + d))) - STEEL.reversible(np.hypot(*(b - d)))
        assert found[i] == pytest.approx(rise / (2 * step), rel=1e-4)


@pytest.mark.parametrize("material", [MAGNET, CONSTANT])
def test_what_does_not_depend_on_the_bias_has_none(material: BodyMaterial) -> None:
    assert slope_with_bias(material, B) is None
