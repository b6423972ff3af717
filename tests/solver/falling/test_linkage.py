"""λ of a magnet on the axis of a coil: a dipole and a loop, magpylib's finite magnet, finite elements."""

from __future__ import annotations

from dataclasses import replace

import magpylib
import numpy as np
import pytest

from rigs.fields.falling import COIL, MATERIALS, flux_of_field, rod
from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import Racetrack
from stringflux.solver.constants import MU0, NU0
from stringflux.solver.falling.core import linked_in_mesh
from stringflux.solver.falling.linkage import in_air, linked
from stringflux.solver.falling.magnet import magnet_in_air

FIVE = np.array([0.0, 5e-3, 12e-3, 20e-3, 40e-3])


def test_a_small_magnet_and_a_thin_loop_are_a_dipole_and_a_circle() -> None:
    """λ = μ0 m a²/(2 (a² + z²)^{3/2}): D. J. Griffiths, *Introduction to Electrodynamics*, ex. 5.6 with 7.2.3."""
    a = 20e-3
    loop = Racetrack(inner_radius=a - 0.05e-3, straight=0.0, build=0.1e-3, bottom=-0.15e-3, top=0.15e-3, turns=1)
    magnet = magnet_in_air(rod("rigid", 1e-3, 1e-3), MATERIALS)
    m = NU0 * np.pi / 4 * 1e-9
    assert magnet.rings.moment == pytest.approx(m, rel=1e-6)
    z = np.array([0.0, 5e-3, 10e-3, 20e-3, 50e-3])
    exact = MU0 * m * a**2 / (2 * (a**2 + z**2) ** 1.5)
    # the magnet is a twentieth of the radius long, the winding 0.1 by 0.3 mm: both leave some 1e-4
    np.testing.assert_allclose(linked(magnet.rings, in_air(loop), z), exact, rtol=2e-4)


def test_a_finite_magnet_links_what_magpylib_says() -> None:
    """B_z of magpylib's cylinder, summed over the discs of loops all through the winding."""
    magnet = magnet_in_air(rod("rigid", 10e-3, 20e-3), MATERIALS)
    peer = magpylib.magnet.Cylinder(polarization=(0, 0, 1.0), dimension=(10e-3, 20e-3))
    g, w = np.polynomial.legendre.leggauss(8)
    for height in FIVE:
        total = 0.0
        for x, wx in zip(g, w, strict=True):
            for y, wy in zip(g, w, strict=True):
                radius, z = 8e-3 + 3e-3 * (1 + x) / 2, 6e-3 * y - height

                def bz(r: Array, z: float = z) -> Array:
                    return np.asarray(peer.getB(np.stack([r, 0 * r, 0 * r + z], axis=1)))[:, 2]

                total += wx * wy / 4 * flux_of_field(bz, radius, (4e-3, 4.9e-3, 5e-3, 5.1e-3, 6e-3))
        assert linked(magnet.rings, in_air(COIL), np.array([height]))[0] == pytest.approx(1000 * total, rel=1e-5)


@pytest.mark.slow
@pytest.mark.parametrize(("material", "rel"), [("ndfeb-38", 2e-5), ("alnico-5", 2e-4)])
def test_a_magnet_on_its_curve_in_the_mesh_at_five_places(material: str, rel: float) -> None:
    """Another mesh, and λ from the vector potential over the winding in place of reciprocity."""
    found = linked(magnet_in_air(rod(material, 10e-3, 20e-3), MATERIALS).rings, in_air(COIL), FIVE)
    meshed = [linked_in_mesh(rod(material, 10e-3, 20e-3, z), None, COIL, MATERIALS) for z in FIVE]
    np.testing.assert_allclose(found, meshed, rtol=rel)


def test_signs() -> None:
    """North up in a winding that goes counter-clockwise from above: +; either way round by itself: −."""
    z = np.array([0.0, 3e-3])
    up, down = (magnet_in_air(rod("ndfeb-38", 10e-3, 20e-3, polarity=p), MATERIALS).rings for p in (1, -1))
    way = linked(up, in_air(COIL), z)
    assert np.all(way > 0)
    np.testing.assert_allclose(linked(down, in_air(COIL), z), -way, rtol=1e-9)
    np.testing.assert_allclose(linked(up, in_air(replace(COIL, sense=-1)), z), -way, rtol=1e-12)
    np.testing.assert_allclose(linked(up, in_air(COIL), -z), way, rtol=1e-5)
    np.testing.assert_allclose(linked(up, in_air(replace(COIL, turns=2000)), z), 2 * way, rtol=1e-12)
