"""A string in the 3-D mesh: laws of its part of the linkage, and of the mesh that moves with it."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
import pytest

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError
from stringflux.geometry.mesh.solid import solid_mesh
from stringflux.geometry.mesh.solid_quality import SolidQuality
from stringflux.geometry.mesh.string_rod import RodSizes, StringRod
from stringflux.geometry.shapes.bodies import Box, Revolved, SolidBody
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.shapes.symmetry import WHOLE, Symmetry
from stringflux.solver.aside import allow
from stringflux.solver.constants import MU0
from stringflux.solver.materials import ConstantPermeability, linear_magnet
from stringflux.solver.solid.linear import SolidSolver
from stringflux.solver.solid.small_signal import excess
from stringflux.solver.solid.space import solid_space
from stringflux.solver.solid.string_in_mesh import (
    SolidWithString,
    coil_field,
    displacement,
    fields_at_string,
    linkages,
    moved,
)

QUALITY = SolidQuality(divisions=1.5, largest=2e-3, tip=1.2e-3, edge=0.7, growth=0.6, far=4.0,
                       rod=RodSizes(arc=2, rings=1, first=0.8e-3, ratio=1.3))
ROD = Revolved(outline=((0.0, -16e-3), (2.4e-3, -16e-3), (2.4e-3, 0.0), (0.0, 0.0)), x=0.0, y=0.0)
POLE = SolidBody(name="pole", material="magnet", form=ROD, magnetisation=(0, 0, 1))
MATERIALS = {"magnet": linear_magnet(name="magnet", remanence=1.0, mu_recoil=4.0)}
COIL = Racetrack(inner_radius=3e-3, straight=0.0, build=4e-3, bottom=-13e-3, top=-2e-3, turns=1000.0)
_DISCRETE = 1e-5  # reciprocity holds in the discrete equations: what is left is Newton's and the solver's tolerance


@lru_cache
def build(radius: float = 0.215e-3, z: float = 3e-3, mu: float = 100.0, mirrored: bool = True) -> SolidWithString:
    rod = StringRod(y=0.0, z=z, radius=radius, half_length=20e-3)
    mesh = solid_mesh((POLE,), QUALITY, strings=(rod,), symmetry=Symmetry(x=mirrored, y=mirrored))
    return SolidWithString(mesh=mesh, bodies=(POLE,), materials=MATERIALS, rod=rod, coils=(COIL,),
                           string=ConstantPermeability(name="s", mu_r=mu))


@lru_cache
def part(radius: float = 0.215e-3, z: float = 3e-3, mu: float = 100.0) -> float:
    return build(radius, z, mu).at((0.0,))[0][0].linkage


@pytest.mark.usefixtures("two_cores")
def test_another_core_has_the_last_height() -> None:
    """All begin from the first: where each is computed, and in which order, changes no digit."""
    def parts(*shifts: float, begun: Callable[[str], None] = lambda stage: None) -> list[tuple[float, float]]:
        return [(found.of_string, found.of_bodies) for found in build().at(shifts, begun)[0]]

    begun: list[str] = []
    rest, low, high = parts(0.0, -0.3e-3, 0.3e-3, begun=begun.append)
    allow(False)
    assert [rest, low, high] == parts(0.0, -0.3e-3, 0.3e-3)
    assert [rest, low] == parts(0.0, -0.3e-3)
    assert [rest, high] == parts(0.0, 0.3e-3)
    assert sum(low) > sum(rest) > sum(high)
    assert [name for name in begun if "without" in name] == ["3-D field without string, at rest",
                                                             "3-D field without string, -0.3 mm"]


def test_reciprocity() -> None:
    """Linear throughout, the change of the linkage is ∫ M·b over the string, b with the pole alone."""
    b = build()
    off = b.without()
    on = b.change(off, tolerance=1e-10)
    parts = linkages(off.space, on, b.coils)
    string = off.space.bodies[-1]
    sources = [coil_field(b.coils, e.points)[None] / MU0 for e in off.space.bodies]
    phi = _coil_potential(b)
    total = MU0 * (sources[-1][0] - string.field(phi))
    m = on.b[-1] / MU0 - on.h[-1]
    exact = off.space.copies * float(np.sum(string.weight * np.sum(m * total, axis=0)))
    assert sum(parts) == pytest.approx(exact, rel=_DISCRETE)
    assert parts[0] > 0.1 * parts[1] > 0  # the pole passes on a good part


def _coil_potential(b: SolidWithString) -> Array:
    """φ of one ampere with the pole."""
    off = b.without()
    space = off.space
    h = [coil_field(b.coils, e.points) / MU0 for e in space.bodies]
    load = sum(MU0 * e.load(excess(mu, s), space.unknowns)
               for e, mu, s in zip(space.bodies, off.permeability, h, strict=True))
    return SolidSolver(space, [MU0 * mu for mu in off.permeability]).solve(np.asarray(load), tolerance=1e-11)


def test_symmetry_changes_nothing() -> None:
    """A quarter of the mesh, and all of it: two meshes, so to their error."""
    whole = build(mirrored=False).at((0.0,))[0][0].linkage
    assert whole == pytest.approx(part(), rel=0.04)


def test_nothing_without_permeability_or_far_away() -> None:
    assert abs(part(mu=1.001)) < 1e-3 * part()
    assert abs(part(z=30e-3)) < 0.01 * part()


def test_thin_strings_go_as_their_area() -> None:
    """With μr 1.5, which leaves no demagnetisation to speak of along the wire and the same across it."""
    thin, thick = part(radius=0.1e-3, mu=1.5), part(radius=0.2e-3, mu=1.5)
    assert thick / thin == pytest.approx(4.0, rel=0.03)


def test_fields_at_the_string() -> None:
    """b in the string's place from the charges is the field that its own elements have, in the mean."""
    b = build()
    off = b.without()
    string = off.space.bodies[-1]
    middle = np.abs(string.points[0]) < 2e-3
    w = string.weight[middle] / string.weight[middle].sum()
    b0, field = fields_at_string(b, off).at(string.points[:, middle])
    own = MU0 * (coil_field(b.coils, string.points) / MU0 - string.field(_coil_potential(b)))[:, middle]
    assert field[2] @ w == pytest.approx(own[2] @ w, rel=0.02)
    assert b0[2] @ w == pytest.approx(off.state.b[-1][2][middle] @ w, rel=0.03)


@pytest.mark.parametrize("symmetry", [Symmetry(x=True, y=True), Symmetry(x=True), WHOLE])
def test_mesh_has_no_cracks(symmetry: Symmetry) -> None:
    """Faces of one element alone lie on the far boundary and nowhere else; the string is as large as it should."""
    rod = StringRod(y=0.0, z=3e-3, radius=0.3e-3, half_length=20e-3)
    mesh = solid_mesh((POLE,), QUALITY, strings=(rod,), symmetry=symmetry)
    distance = np.linalg.norm(mesh.points[:, np.unique(mesh.far_facets)], axis=0)
    assert distance.min() > 28e-3
    space = solid_space(mesh)
    assert space.bodies[1].weight.sum() * space.copies == pytest.approx(np.pi * 0.3e-3**2 * 40e-3, rel=0.005)


def test_moved_mesh() -> None:
    """Bodies stand, the string moves whole, and no element turns over (space refuses those)."""
    b = build()
    up = 0.4e-3
    mesh = moved(b.mesh, b.bodies, b.rod, up)
    before, after = solid_space(b.mesh), solid_space(mesh)
    assert after.bodies[0].points == pytest.approx(before.bodies[0].points, abs=1e-15)
    string = before.bodies[1].points + np.array([0.0, 0.0, up])[:, None, None]
    assert after.bodies[1].points == pytest.approx(string, abs=1e-12)
    assert after.bodies[1].weight.sum() == pytest.approx(before.bodies[1].weight.sum(), rel=1e-9)
    assert np.all(after.bodies[1].weight > 0)
    with pytest.raises(SolveError, match=r"cannot be moved 2[.]90 mm down"):
        moved(b.mesh, b.bodies, b.rod, -2.9e-3)


def test_moving_is_meshing_anew() -> None:
    """λ 0.5 mm higher by the bent mesh and by a mesh of its own, to the error of these meshes."""
    bent = build().at((0.5e-3,))[0][0].linkage
    assert bent == pytest.approx(part(z=3.5e-3), rel=0.03)
    assert bent < 0.9 * part()


def test_a_taller_body_beside_the_string_stands_still() -> None:
    """g is 1 on the string and 0 at a side wall that is higher than it."""
    wall = SolidBody(name="wall", material="magnet", form=Box(low=(-1e-3, 4e-3, -5e-3), high=(1e-3, 5e-3, 6e-3)))
    g = displacement((POLE, wall), StringRod(y=0.0, z=3e-3, radius=0.2e-3, half_length=20e-3))
    at = np.array([[0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 4e-3, 2e-3], [3e-3, 0.0, 3e-3, 3e-3]])
    assert g(at)[:3] == pytest.approx([1.0, 0.0, 0.0])
    assert 0.0 < g(at)[3] < 1.0
    with pytest.raises(SolveError, match="touches"):
        displacement((wall,), StringRod(y=3.9e-3, z=3e-3, radius=0.2e-3, half_length=20e-3))
