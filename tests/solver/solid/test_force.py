"""Forces on bodies of a build: against closed forms, an image, the energy of a moved mesh, and each other."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import magpylib
import numpy as np
import pytest

from rigs.fields.blocks import MATERIALS, apart, force_on_box, magnet, upper
from stringflux.geometry.mesh.solid import edges_of, solid_mesh
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.geometry.shapes.bodies import Box, Cylinder, SolidBody
from stringflux.solver.constants import MU0
from stringflux.solver.materials.b_of_h import solid_law
from stringflux.solver.solid.bias import solve_static
from stringflux.solver.solid.force import ForceFound, Forces
from stringflux.solver.solid.solve import SolvedMagnets, solve_magnets
from stringflux.solver.solid.space import SolidSpace, solid_space, total

DRAFT = SOLID_QUALITIES["draft"]
WAY = (0.6, 0.0, 0.8)
LOW = Box(low=(-3e-3, -6e-3, -4e-3), high=(3e-3, 6e-3, 0.0))
_CHARGES = 2e-3  # of the force, at draft; measured 1e-4 over 3 mm, 1.2e-3 over 0.5 mm
_STRESS = 2e-2  # at draft; measured 1.3e-2 over 3 mm, 0.6e-2 over 0.1 mm
_STRESS_AT_STEEL = 4e-2  # at draft, 2 mm off a plate; its edges: measured 3.7, 1.9, 1.0e-2 at draft, normal, fine


def cuboid(box: Box, way: Any) -> Any:
    low, high = np.array(box.low), np.array(box.high)
    return magpylib.magnet.Cuboid(dimension=high - low, polarization=way, position=(low + high) / 2)


def solved(*bodies: SolidBody) -> SolvedMagnets:
    return solve_magnets(bodies, MATERIALS, quality=DRAFT)


@pytest.fixture(scope="module")
def wide() -> SolvedMagnets:
    return solved(magnet("low", LOW), magnet("up", upper(3e-3), WAY))


@pytest.fixture(scope="module")
def forces(wide: SolvedMagnets) -> Forces:
    return Forces(wide)


def test_two_blocks(forces: Forces) -> None:
    """Two blocks with μ = 1, one magnetised aslant: exact. The charges hold, and stress agrees."""
    exact = force_on_box(upper(3e-3), WAY, cuboid(LOW, (0, 0, 1)))
    found = forces.on([1])
    assert found.pitches > 4
    assert apart(found.charges, exact) < _CHARGES
    assert apart(found.stress, exact) < _STRESS


def test_action_and_reaction(forces: Forces) -> None:
    one, other, both = (forces.on(which) for which in ([0], [1], [0, 1]))
    size = float(np.linalg.norm(one.charges))
    assert one.charges == pytest.approx(-other.charges, abs=1e-12)
    assert both.stress == pytest.approx(one.stress + other.stress, abs=1e-9 * size)  # g is a sum as well
    assert np.linalg.norm(both.stress) < _STRESS * size
    assert not np.any(both.charges)


@pytest.mark.parametrize("gap", [0.5e-3, 0.1e-3])
def test_thin_gaps(gap: float) -> None:
    """Where charges are farther apart than the gap is wide, stress is taken, and that is exact within its error."""
    exact = force_on_box(upper(gap), WAY, cuboid(LOW, (0, 0, 1)))
    found = Forces(solved(magnet("low", LOW), magnet("up", upper(gap), WAY))).on([1])
    assert (found.pitches > 1) == (gap > 0.3e-3)
    assert apart(found.charges if found.pitches > 1 else found.stress, exact) < _STRESS


def test_cylinders_on_one_axis() -> None:
    """Two round magnets that repel: against magpylib's force on a finely divided one."""
    rods = [Cylinder(base=(0.0, 0.0, z), along=2, length=6e-3, radius=2.5e-3) for z in (0.0, 8e-3)]
    ways = [(0.0, 0.0, 1.0), (0.0, 0.0, -1.0)]
    peers = [magpylib.magnet.Cylinder(dimension=(5e-3, 6e-3), polarization=way, position=(0, 0, rod.base[2] + 3e-3))
             for rod, way in zip(rods, ways, strict=True)]
    exact = np.asarray(magpylib.getFT(*peers, meshing=4000))[0]
    found = Forces(solved(*(magnet(str(i), *both) for i, both in enumerate(zip(rods, ways, strict=True))))).on([1])
    assert exact[2] > 0.5
    assert apart(found.charges, exact) < 5e-3  # the peer's own step from 1000 parts to 4000 is 2e-3
    assert apart(found.stress, exact) < _STRESS


def test_image_in_a_wide_plate() -> None:
    """Over a wide plate of high permeability a magnet is drawn as by its image (exact for an endless one)."""
    block = Box(low=(-3e-3, -4e-3, 2e-3), high=(3e-3, 4e-3, 7e-3))
    plate = Box(low=(-30e-3, -30e-3, -5e-3), high=(30e-3, 30e-3, 0.0))
    image = Box(low=(-3e-3, -4e-3, -7e-3), high=(3e-3, 4e-3, -2e-3))
    exact = force_on_box(block, (0, 0, 1), cuboid(image, (0, 0, 1)))
    found = Forces(solved(magnet("block", block), SolidBody(name="plate", material="s", form=plate)))
    assert apart(found.on([0]).charges, exact) < 5e-3
    assert apart(-found.on([1]).stress, exact) < _STRESS_AT_STEEL
    assert exact[2] < -1.0


def test_energy_of_a_moved_mesh(wide: SolvedMagnets, forces: Forces) -> None:
    """F = −dU/du, U = μ0/2 ∫ H² for magnets whose M stays: the mesh moved by g up and down and solved anew."""
    g = forces._weight(np.array([0.0, 1.0]), ())
    step = 2e-5

    def energy(by: float) -> float:
        mesh = wide.space.mesh
        points = mesh.points + by * np.array([[0.0], [0.0], [1.0]]) * g
        ends, _ = edges_of(mesh.tetrahedra, g.size)
        space = solid_space(replace(mesh, points=points, middles=points[:, ends].mean(1)))
        laws = [solid_law(b, MATERIALS["m"]) for b in wide.bodies]
        phi = solve_static(space, laws, tolerance=1e-9).phi
        return float(phi @ _laplace(space) @ phi) / 2

    slope = (energy(step) - energy(-step)) / (2 * step)
    assert forces.on([1]).stress[2] == pytest.approx(-slope, rel=1e-3)


def _laplace(space: SolidSpace) -> Any:
    one = MU0 * np.eye(3)[:, :, None, None]
    return total(space.air, *(e.matrix(np.broadcast_to(one, (3, 3, *e.weight.shape)), space.unknowns)
                              for e in space.bodies))


def test_planes_of_symmetry() -> None:
    """A quarter of a mesh gives each body's force as the whole does; images have mirrored forces, all none at all."""
    bodies = (*(magnet(f"magnet {y:g}", Box(low=(-2e-3, y - 2e-3, 0.0), high=(2e-3, y + 2e-3, 5e-3)))
                for y in (-5e-3, 5e-3)),
              SolidBody(name="plate", material="s", form=Box(low=(-5e-3, -10e-3, -3e-3), high=(5e-3, 10e-3, -1e-3))))
    quarter = solved(*bodies)
    assert quarter.space.copies == 4
    space = solid_space(solid_mesh(bodies, DRAFT))
    laws = [solid_law(b, MATERIALS["m"]) for b in bodies[:2]]
    laws.append(lambda h: (5000 * MU0 * h, 5000 * MU0 * np.broadcast_to(
        np.eye(3)[:, :, None, None], (3, 3, *h.shape[1:]))))
    whole = Forces(SolvedMagnets(bodies=bodies, space=space, bias=solve_static(space, laws), odd=()))
    parts = Forces(quarter)
    one, other, plate = (parts.on([i]) for i in range(3))
    for found, mirrored in ((one.stress, other.stress), (one.charges, other.charges)):
        assert found * [1, -1, 1] == pytest.approx(mirrored, abs=1e-9)
    for i, found in enumerate((one, other, plate)):
        seen: ForceFound = whole.on([i])
        assert apart(found.charges, seen.charges) < 5e-3
        assert apart(found.stress, seen.stress) < _STRESS
    assert one.charges + other.charges + plate.charges == pytest.approx(np.zeros(3), abs=1e-12)
    assert np.linalg.norm(one.stress + other.stress + plate.stress) < _STRESS * plate.stress[2]
    assert abs(one.charges[1]) > 0.02  # the magnets push each other apart
