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
from stringflux.solver.constants import MU0
from stringflux.solver.materials import linear_magnet
from stringflux.solver.materials.b_of_h import solid_law
from stringflux.solver.solid.bias import charges, solve_static
from stringflux.solver.solid.charges import unfolded
from stringflux.solver.solid.space import solid_space

_CLOSE = 1e-3  # an element and more away, as of boxes and rods
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


@pytest.mark.parametrize("made", [ell, holed, wedge])
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
