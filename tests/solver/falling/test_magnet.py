"""The magnet's working point, and its moment on rings."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ellipe, ellipk

from rigs.fields.falling import COIL, MATERIALS, rod
from stringflux.solver.constants import MU0, NU0
from stringflux.solver.falling.linkage import in_air, linked
from stringflux.solver.falling.magnet import magnet_in_air
from stringflux.solver.materials.h_of_b import in_section


def nagaoka(slenderness: float) -> float:
    """K of a current sheet, length/diameter = slenderness: mean B over μ0 M. Lorenz 1879, in elliptic integrals."""
    m = 1 / (1 + slenderness**2)
    k = np.sqrt(m)
    K, E = ellipk(m), ellipe(m)
    return float(4 / (3 * np.pi * slenderness) * ((1 / k) * ((slenderness**2) * K + (1 - slenderness**2) * E) - 1))


@pytest.mark.parametrize("slenderness", [0.5, 1.0, 2.0, 4.0])
def test_the_mean_field_in_a_uniform_magnet_is_that_of_a_current_sheet(slenderness: float) -> None:
    found = magnet_in_air(rod("rigid", 10e-3, slenderness * 10e-3), MATERIALS)
    assert found.magnetisation == pytest.approx(NU0, rel=1e-9)  # M = Br/μ0 everywhere
    assert found.flux_density == pytest.approx(nagaoka(slenderness), rel=2e-4)
    assert found.demagnetising == pytest.approx((nagaoka(slenderness) - 1) / MU0, rel=1e-3)
    assert found.permeance == pytest.approx(nagaoka(slenderness) / (1 - nagaoka(slenderness)), rel=1e-3)


@pytest.mark.parametrize("material", ["ndfeb-38", "alnico-5"])
def test_rings_link_what_all_points_of_the_magnet_link(material: str) -> None:
    part = rod(material, 10e-3, 20e-3)
    found = magnet_in_air(part, MATERIALS)
    points = found.section.points[0]
    b = found.state.b[0]
    M = (b * NU0 - in_section(MATERIALS[material], part, b, None)[0]).reshape(2, -1)
    r, z = np.asarray(found.section.parts[0].global_coordinates()).reshape(2, -1)
    for height in (0.0, 7e-3, 25e-3):
        whole = float(np.sum(2 * np.pi * points.weight * np.sum(M * in_air(COIL)(r, z + height), axis=0)))
        assert linked(found.rings, in_air(COIL), np.array([height]))[0] == pytest.approx(whole, rel=1e-6)


def test_a_magnet_stays_on_its_curve() -> None:
    strong, weak = (magnet_in_air(rod(name, 10e-3, 20e-3), MATERIALS) for name in ("ndfeb-38", "alnico-5"))
    assert 0 < weak.magnetisation < strong.magnetisation < 1.25 / MU0
    for found, name in ((strong, "ndfeb-38"), (weak, "alnico-5")):
        on_curve = float(MATERIALS[name].major(found.flux_density)[0])
        assert found.demagnetising == pytest.approx(on_curve, rel=0.06)  # means of a bent curve


def test_turned_round_twice_is_as_it_was() -> None:
    rings = magnet_in_air(rod("alnico-5", 10e-3, 20e-3), MATERIALS).rings
    heights = np.array([-9e-3, 0.0, 4e-3, 30e-3])
    one, two = (linked(m, in_air(COIL), heights) for m in (rings, rings.turned_round()))
    np.testing.assert_allclose(two, -one, rtol=1e-3)  # its mesh is not symmetric to the last digit
    np.testing.assert_array_equal(linked(rings.turned_round().turned_round(), in_air(COIL), heights), one)
