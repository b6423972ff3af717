"""The face field close to the face, where single unknowns of the pole would show."""

from __future__ import annotations

import magpylib
import numpy as np

from rigs.fields.bench_rig import bench_row
from rigs.fields.shapes import BENCH_COIL, BENCH_MAGNET, placed, rod
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.solver.materials import linear_magnet
from stringflux.solver.row.face_field import FAR, NEAR
from stringflux.solver.row.solve import solve_row

HEIGHTS = (0.0, 0.05e-3, 0.1e-3, 0.2e-3, 0.3e-3, 0.4e-3, 0.5e-3, 0.8e-3, 1.5e-3)
IDEAL = linear_magnet(name="ideal", remanence=1.0, mu_recoil=1.0)


def test_a_uniform_rod_down_to_its_face() -> None:
    row = solve_row([placed(rod())], BENCH_COIL, {"bench": IDEAL}, quality=QUALITIES["normal"], history="after",
                    band=(0.7e-3, 7e-3))
    shape = row.places[0].shape
    length, radius = -shape.bottom, shape.radius
    magnet = magpylib.magnet.Cylinder(polarization=(0, 0, 1.0), dimension=(2 * radius, length),
                                      position=(0, 0, -length / 2))
    points = np.array([[0.0, 0.0, h] for h in HEIGHTS])
    exact = magnet.getB(points + [0, 0, 1e-9])[:, 2]
    got = [row.face_field(h)[0] for h in HEIGHTS]
    np.testing.assert_allclose(got, exact, rtol=5e-3)  # of the normal mesh


def test_the_two_ways_meet() -> None:
    """Falling all the way, and no step where one takes over from the other."""
    at = np.linspace(NEAR - 0.1e-3, FAR + 0.1e-3, 41)
    b = np.array([bench_row().face_field(h)[0] for h in at])
    slope = np.diff(b) / np.diff(at)
    assert (slope < 0).all()
    assert np.ptp(slope) < 0.5 * np.abs(slope).mean()
    assert BENCH_MAGNET.remanence > b[0]
