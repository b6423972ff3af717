"""What a magnetised string adds to the field, against magnets in closed form."""

from __future__ import annotations

import magpylib
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import StringShape
from stringflux.postprocess.string.own_field import MagnetisedLine

RADIUS, LENGTH, SIZE = 0.25e-3, 20e-3, 1e6  # m, m, A/m
_TUBE = 1e-2  # 6 radii off: (a/d)² of what a charge on the surface of an end is, and not on the axis


def line(m: tuple[float, float, float], slope: float = 0.0) -> MagnetisedLine:
    """A uniformly magnetised piece; its ends are as steep as nodes can be near each other."""
    end = 1e-7
    half = LENGTH / 2 / np.hypot(1, slope)
    area, on = np.pi * RADIUS**2 * SIZE, np.array([0.0, 1.0, 1.0, 1.0, 0.0])
    return MagnetisedLine(shape=StringShape(y=1e-3, axis_height=3e-3, core_radius=RADIUS, slope=slope),
                          x=np.array([-half - end, -half + end, 0.0, half - end, half + end]),
                          along=area * m[0] * on, across=area * np.array(m[1:])[:, None] * on)


def around(count: int = 300) -> Array:
    points = np.random.default_rng(1).uniform(-8e-3, 8e-3, (3, count))
    points = points[:, np.hypot(points[1], points[2]) > 6 * RADIUS]
    return points + np.array([[0.0], [1e-3], [3e-3]])


@pytest.mark.parametrize("slope", [0.0, 0.2])
@pytest.mark.parametrize("m", [(1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.5, -0.3)])
def test_a_thin_cylinder(m: tuple[float, float, float], slope: float) -> None:
    turned = Rotation.from_euler("y", 90 - np.degrees(np.arctan(slope)), degrees=True)
    along, up = np.array([1.0, 0.0, slope]), np.array([-slope, 0.0, 1.0])
    whole = (m[0] * along + m[2] * up) / np.hypot(1, slope) + np.array([0.0, m[1], 0.0])
    magnet = magpylib.magnet.Cylinder(magnetization=turned.inv().apply(SIZE * whole), dimension=(2 * RADIUS, LENGTH),
                                      position=(0, 1e-3, 3e-3), orientation=turned)
    points = around()
    low = points[2] - 3e-3 - slope * points[0]
    points = points[:, np.hypot(points[1] - 1e-3, low / np.hypot(1, slope)) > 6 * RADIUS]
    got, exact = line(m, slope).field(points), magnet.getB(points.T).T
    off = np.linalg.norm(got - exact, axis=0) / np.linalg.norm(exact, axis=0)
    assert off.max() < _TUBE


def test_there_is_nothing_to_say_inside() -> None:
    inside = np.array([[0.0, 0.0], [1e-3, 1e-3], [3e-3, 3e-3 + 1.1 * RADIUS]])
    b = line((1.0, 0.0, 0.0)).field(inside)
    assert np.isnan(b[:, 0]).all()
    assert np.isfinite(b[:, 1]).all()
