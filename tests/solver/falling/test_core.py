"""A steel core in the coil: its answer by reciprocity against magnet and core in one mesh."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.fields.falling import COIL, MATERIALS, rod
from stringflux.geometry import CaseError
from stringflux.geometry.demonstrations.falling import rectangle
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.row import PartShape
from stringflux.solver.falling.core import Reach, core_material, linked_in_mesh, with_core
from stringflux.solver.falling.linkage import in_air, linked
from stringflux.solver.falling.magnet import magnet_in_air

REACH = Reach(radius=5e-3, low=7e-3, high=120e-3)
FIVE = 16e-3 + np.array([1.2e-3, 2e-3, 5e-3, 15e-3, 60e-3])  # over a face at 6 mm, of a magnet of 20 mm


def core(material: str) -> PartShape:
    return PartShape(material=material, outline=rectangle(0.0, 7e-3, -24e-3, 6e-3))


@pytest.mark.slow
def test_what_stays_as_it_is_links_the_same_both_ways() -> None:
    """A magnet without susceptibility and a core of one permeability: reciprocity is exact, whatever the mesh."""
    magnet = magnet_in_air(rod("rigid", 10e-3, 20e-3), MATERIALS)
    found = linked(magnet.rings, with_core(COIL, core("plain-core"), MATERIALS, REACH, QUALITIES["fine"]), FIVE)
    meshed = [linked_in_mesh(rod("rigid", 10e-3, 20e-3, z), core("plain-core"), COIL, MATERIALS) for z in FIVE]
    np.testing.assert_allclose(found, meshed, rtol=1.5e-4)
    assert np.all(found > 1.4 * linked(magnet.rings, in_air(COIL), FIVE))  # the core gathers flux


@pytest.mark.slow
def test_steel_on_its_curve_and_a_hard_magnet_are_near_that() -> None:
    magnet = magnet_in_air(rod("ndfeb-38", 10e-3, 20e-3), MATERIALS)
    found = linked(magnet.rings, with_core(COIL, core("steel-1008"), MATERIALS, REACH), FIVE)
    meshed = [linked_in_mesh(rod("ndfeb-38", 10e-3, 20e-3, z), core("steel-1008"), COIL, MATERIALS) for z in FIVE]
    np.testing.assert_allclose(found, meshed, rtol=0.03)  # recoil 1.05; far off steel is at its worst


def test_alnico_is_magnetised_anew_near_steel() -> None:
    magnet = magnet_in_air(rod("alnico-5", 10e-3, 20e-3), MATERIALS)
    rigid = linked(magnet.rings, with_core(COIL, core("steel-1008"), MATERIALS, REACH), FIVE[:1])[0]
    assert linked_in_mesh(rod("alnico-5", 10e-3, 20e-3, FIVE[0]), core("steel-1008"), COIL, MATERIALS) > 1.2 * rigid


def test_a_core_is_no_magnet() -> None:
    with pytest.raises(CaseError, match=r"core, material: received 'alnico-5', a magnet"):
        core_material(MATERIALS, core("alnico-5"))
