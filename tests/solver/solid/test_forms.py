"""The field of magnets of any form, held against closed forms of the same bodies by another library."""

from __future__ import annotations

from collections.abc import Callable

import magpylib
import numpy as np
import pytest

from rigs.cases.forms import points, solid
from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.solid import solid_mesh
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.symmetry import Symmetry
from stringflux.solver.constants import MU0
from stringflux.solver.materials import find_material, linear_magnet
from stringflux.solver.materials.b_of_h import solid_law
from stringflux.solver.solid.bias import charges, solve_static
from stringflux.solver.solid.charges import unfolded
from stringflux.solver.solid.space import solid_space

_CLOSE = 1e-3  # an element and more away, as of boxes and rods
_SAME = 1e-3  # by two meshes, each within 0.25e-3 of the mean over sizes 3 % smaller to 3 % larger (draft: 2.0e-3)
WAY = (0.6, 0.0, 0.8)


def ell() -> tuple[SolidBody, list[object]]:
    """An L is two boxes."""
    outline = points((-3, -6), (3, -6), (3, -2), (0, -2), (0, 6), (-3, 6))
    peers = [magpylib.magnet.Cuboid(dimension=size, polarization=WAY, position=at) for size, at in (
        ((6e-3, 4e-3, 5e-3), (0, -4e-3, -2.5e-3)), ((3e-3, 8e-3, 5e-3), (-1.5e-3, 2e-3, -2.5e-3)))]
    return solid("prism", outline=outline, length=5, top=0, magnetised=WAY), peers


def holed() -> tuple[SolidBody, list[object]]:
    """A plate less a rod, whose field is taken away."""
    square = points((-5, -5), (5, -5), (5, 5), (-5, 5))
    peers = [magpylib.magnet.Cuboid(dimension=(10e-3, 10e-3, 4e-3), polarization=WAY, position=(0, 0, -2e-3)),
             magpylib.magnet.Cylinder(dimension=(4e-3, 4e-3), polarization=[-w for w in WAY],
                                      position=(1e-3, 0, -2e-3))]
    hole = {"at": ["1 mm", "0 mm"], "diameter": "4 mm"}
    return solid("prism", outline=square, length=4, top=0, round_holes=[hole], magnetised=WAY), peers


def wedge() -> tuple[SolidBody, list[object]]:
    """A tilted triangle carried on, as a closed surface of triangles."""
    body = solid("prism", outline=points((-3, 0), (3, 0), (0, 6)), length=10, lies="across the strings", top=0,
                 rotated=[{"about": "x", "by": "20 deg"}], magnetised=WAY)
    corners = np.array([(x, y, z) for y in (-5e-3, 5e-3) for x, z in ((-3e-3, 0), (3e-3, 0), (0, 6e-3))])
    a = np.deg2rad(20)
    middle = np.array([0, 0, 3e-3])
    turned = (corners - middle) @ np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]]).T
    turned[:, 2] -= turned[:, 2].max()
    peer = magpylib.magnet.TriangularMesh.from_ConvexHull(points=turned, polarization=WAY)
    return body, [peer]


def shaft() -> tuple[SolidBody, list[object]]:
    """Two rods on one axis across the strings."""
    outline = points((0, 0), (3, 0), (3, 4), (1.5, 4), (1.5, 10), (0, 10))
    body = solid("revolved", outline=outline, lies="across the strings", top=0, magnetised=WAY)
    # what runs up runs towards -y when it lies across
    peers = [magpylib.magnet.Cylinder(dimension=size, polarization=(0.6, 0.8, 0.0), position=at)
             for size, at in (((6e-3, 4e-3), (0, 0, -3e-3)), ((3e-3, 6e-3), (0, 0, 2e-3)))]
    return body, [p.rotate_from_angax(90, "x", anchor=(0, 0, 0)).move((0, 0, -3e-3)) for p in peers]


def ring() -> tuple[SolidBody, list[object]]:
    body = solid("revolved", outline=points((2, 0), (5, 0), (5, 3), (2, 3)), top=0, magnetised=WAY)
    return body, [magpylib.magnet.Cylinder(dimension=(size, 3e-3), polarization=[way * w for w in WAY],
                                           position=(0, 0, -1.5e-3)) for size, way in ((10e-3, 1), (4e-3, -1))]


def hull(body: SolidBody, corners: list[tuple[float, float, float]]) -> tuple[SolidBody, list[object]]:
    points_ = 1e-3 * np.array(corners)
    return body, [magpylib.magnet.TriangularMesh.from_ConvexHull(points=points_, polarization=WAY)]


def chisel() -> tuple[SolidBody, list[object]]:
    body = solid("wedge", along=5, across=12, height=8, tip_along=1, tip_height=4, tip_centre=["1 mm", "0 mm"], top=0,
                 magnetised=WAY)
    return hull(body, [(x, y, z) for y in (-6, 6) for x, z in ((-2.5, -8), (2.5, -8), (-2.5, -4), (2.5, -4), (0.5, 0),
                                                              (1.5, 0))])


def chamfered() -> tuple[SolidBody, list[object]]:
    body = solid("box", along=6, across=10, height=5, chamfer=1, top=0, magnetised=WAY)
    return hull(body, [(s * a, t * b, z) for s in (-1, 1) for t in (-1, 1)
                       for a, b, z in ((3, 5, -5), (3, 5, -1), (2, 4, 0))])


def tilted_rod() -> tuple[SolidBody, list[object]]:
    body = solid("cylinder", diameter=5, length=10, rotated=[{"about": "y", "by": "90 deg"}], top=0, magnetised=WAY)
    peer = magpylib.magnet.Cylinder(dimension=(5e-3, 10e-3), polarization=(-0.8, 0.0, 0.6))
    return body, [peer.rotate_from_angax(90, "y").move((0, 0, -2.5e-3))]


@pytest.mark.parametrize("made", [ell, holed, wedge, shaft, ring, chisel, chamfered, tilted_rod])
def test_magnets(made: Callable[[], tuple[SolidBody, list[object]]]) -> None:
    """Above and beside it, an element and more away; remanence alone, μ = 1."""
    body, peers = made()
    space = solid_space(solid_mesh((body,), SOLID_QUALITIES["normal"]))
    state = solve_static(space, [solid_law(body, linear_magnet(name="m", remanence=1.0, mu_recoil=1.0))])
    q = charges(space, [state.b[0] / MU0 - state.h[0]])
    x, y, z = np.meshgrid([-5e-3, 0.0, 2e-3], [-4e-3, 0.0, 5e-3], [2.5e-3, 3.5e-3, 5e-3])
    p = np.stack([x.ravel(), y.ravel(), z.ravel()])
    found: Array = MU0 * unfolded(space, q[None], ((),)).field(p)[0]
    exact = magpylib.getB(peers, p.T, sumup=True).T
    assert np.max(np.linalg.norm(found - exact, axis=0) / np.linalg.norm(exact, axis=0)) < _CLOSE


def over_steel(steel: SolidBody) -> Array:
    """B (3, n) in T over a steel body that stands on a magnet."""
    magnet = solid("box", material="magnet", along=6, across=10, height=4, top=-8, magnetised="up")
    bodies = (steel, magnet)
    space = solid_space(solid_mesh(bodies, SOLID_QUALITIES["fine"], symmetry=Symmetry(x=True, y=True)))
    laws = [solid_law(steel, find_material("steel-1008")), solid_law(magnet, linear_magnet(name="m", remanence=1.0,
                                                                                            mu_recoil=1.05))]
    state = solve_static(space, laws)
    q = charges(space, [b / MU0 - h for b, h in zip(state.b, state.h, strict=True)])
    x, y, z = np.meshgrid([0.5e-3, 3e-3], [0.5e-3, 4e-3], [2.5e-3, 4e-3])
    p = np.stack([x.ravel(), y.ravel(), z.ravel()])
    return np.asarray(MU0 * unfolded(space, q[None], ((),)).field(p)[0])


BLOCK = {"along": 4, "across": 8, "height": 8, "top": 0}


@pytest.fixture(scope="module")
def block() -> Array:
    return over_steel(solid("box", **BLOCK))


@pytest.mark.slow
@pytest.mark.parametrize(("shape", "keys", "most"), [
    ("prism", {"outline": points((-2, 0), (2, 0), (2, 8), (-2, 8)), "length": 8, "lies": "across the strings"},
     _SAME),
    ("wedge", {"along": 4, "across": 8, "height": 8, "tip_along": 4}, _SAME),
    ("box", BLOCK | {"chamfer": 0.02}, 3 * _SAME),
])  # fmt: skip
def test_steel_of_one_form_by_several_ways(block: Array, shape: str, keys: dict[str, object], most: float) -> None:
    """A box of steel on a magnet, written as other forms; a chamfer of nearly nothing."""
    found = over_steel(solid(shape, **(keys | {"top": 0})))
    off = np.linalg.norm(found - block, axis=0) / np.linalg.norm(block, axis=0)
    assert off.max() < most


def test_a_rod_of_steel_is_a_cylinder() -> None:
    rod = over_steel(solid("cylinder", diameter=5, length=8, top=0))
    turned = over_steel(solid("revolved", outline=points((0, 0), (2.5, 0), (2.5, 8), (0, 8)), top=0))
    assert np.max(np.linalg.norm(turned - rod, axis=0) / np.linalg.norm(rod, axis=0)) < _SAME
