"""The magnets' field in air and in the poles: closed forms, laws, and what strings see."""

from __future__ import annotations

import magpylib
import numpy as np
import pytest

from rigs.fields.shapes import BENCH_COIL, STEEL_200, placed, rod
from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.row import PoleShape
from stringflux.solver.materials import linear_magnet
from stringflux.solver.row.everywhere import Everywhere
from stringflux.solver.row.solve import SolvedRow, solve_row

PITCH = 9e-3
BAND = (0.7e-3, 7e-3)
IDEAL = linear_magnet(name="ideal", remanence=1.0, mu_recoil=1.0)

_MESH = 0.02  # in parts of the field, a millimetre off the edges, where it has no bound


def solved(materials: dict[str, object], *shapes: PoleShape) -> SolvedRow:
    places = [placed(s, y=PITCH * (i - (len(shapes) - 1) / 2)) for i, s in enumerate(shapes)]
    return solve_row(places, BENCH_COIL, materials, quality=QUALITIES["normal"], history="after",  # type: ignore[arg-type]
                     band=BAND)


def off_the_edges(row: SolvedRow, points: Array) -> Array:
    for place in row.places:
        r, shape = np.hypot(points[0], points[1] - place.y), place.shape
        for z in (shape.top, shape.bottom):
            points = points[:, np.hypot(r - shape.radius, points[2] - place.face - z) > 1e-3]
            r = np.hypot(points[0], points[1] - place.y)
    return points


@pytest.fixture(scope="module")
def two() -> SolvedRow:
    return solved({"bench": IDEAL}, rod(), rod())


def test_uniform_rods_in_air_and_inside(two: SolvedRow) -> None:
    shape, face = two.places[0].shape, two.places[0].face
    length = shape.top - shape.bottom
    magnets = [magpylib.magnet.Cylinder(polarization=(0, 0, 1.0), dimension=(2 * shape.radius, length),
                                        position=(0, p.y, face - length / 2)) for p in two.places]
    box = np.array([[-9e-3, 9e-3], [-12e-3, 12e-3], [face - length - 5e-3, face + 5e-3]])
    points = off_the_edges(two, np.random.default_rng(2).uniform(box[:, 0], box[:, 1], (1500, 3)).T)
    b, pole = Everywhere(two).bias(points)
    exact = sum(m.getB(points.T).T for m in magnets)
    size = np.linalg.norm(exact, axis=0)
    off = np.linalg.norm(b - exact, axis=0)
    assert np.median(off[pole < 0] / size[pole < 0]) < _MESH
    assert np.max(off[pole >= 0] / size[pole >= 0]) < _MESH
    assert {-1, 0, 1} == set(pole)
    for i, p in enumerate(two.places):
        there = np.hypot(points[0], points[1] - p.y) < shape.radius
        assert np.array_equal(pole == i, there & (points[2] < face) & (points[2] > face - length))


def test_over_the_faces_it_is_what_strings_see(two: SolvedRow) -> None:
    box = np.array([[-9e-3, 9e-3], [-12e-3, 12e-3], [two.places[0].face + 1e-3, two.places[0].face + 5e-3]])
    points = np.random.default_rng(3).uniform(box[:, 0], box[:, 1], (500, 3)).T
    b, seen = Everywhere(two).bias(points)[0], two.field.bias(points)
    assert np.linalg.norm(b - seen) < _MESH * np.linalg.norm(seen)


def test_what_goes_into_a_steel_pole_beside_a_magnet_comes_out() -> None:
    """Steel that only its neighbour magnetises, from one side: the normal part of B is the same on both sides of its
    surface, all round, which the orders m ≥ 1 alone can bring about."""
    steel = PoleShape(parts=tuple(type(p)(material="steel", outline=p.outline) for p in rod().parts))
    row = solved({"bench": IDEAL, "steel": STEEL_200}, rod(), steel)
    everywhere, place = Everywhere(row), row.places[1]
    radius, tall = place.shape.radius, place.shape.top - place.shape.bottom
    angle, up = np.meshgrid(np.linspace(0, 2 * np.pi, 24, endpoint=False), np.linspace(0.15, 0.85, 15))
    normal = np.stack([np.sin(angle.ravel()), np.cos(angle.ravel())])
    sides = []
    for by in (-30e-6, 30e-6):
        x, y = (radius + by) * normal
        z = place.face - tall * up.ravel()
        sides.append(np.sum(normal * everywhere.bias(np.stack([x, y + place.y, z]))[0][:2], axis=0))
    inner, outer = sides
    assert np.sqrt(np.mean((inner - outer) ** 2)) < 0.05 * np.sqrt(np.mean(outer**2))
    assert np.ptp(outer) > 1.5 * np.abs(outer.mean())  # it is no matter of the axis alone
