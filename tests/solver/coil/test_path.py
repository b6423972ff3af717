"""Windings on paths of straight and round pieces: against a race-track, magpylib's filaments, laws and closed
forms."""

from __future__ import annotations

import math

import magpylib
import numpy as np
import pytest

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.coil_path import PathCoil, path_coil
from stringflux.geometry.shapes.loops import area, flattened
from stringflux.geometry.shapes.row import Racetrack
from stringflux.solver.coil.air import field, inductance, linked, mean_area, mutual, vector_potential
from stringflux.solver.constants import MU0
from stringflux.solver.interpolation import gauss

MM = 1e-3
SECTION = {"build": 3 * MM, "bottom": -6 * MM, "top": -2 * MM, "turns": 40.0}


def random_path(seed: int) -> PathCoil:
    """Six corners about a middle, one of them drawn inwards, with radii of their own; some sharp."""
    rng = np.random.default_rng(seed)
    angle = np.arange(6) * math.pi / 3 + rng.uniform(-0.2, 0.2, 6)
    away = rng.uniform(14, 20, 6) * MM
    away[2] = rng.uniform(6, 8) * MM
    corners = [(r * math.cos(a), r * math.sin(a)) for r, a in zip(away, angle, strict=True)]
    radii = np.where(rng.random(6) < 0.3, 0.0, rng.uniform(1, 3, 6) * MM)
    radii[2] = rng.uniform(3.2, 4.5) * MM
    return path_coil(corners, radii.tolist(), **SECTION, sense=-1 if seed % 2 else 1, x=seed * MM, y=-2 * MM)


PATHS = [random_path(seed) for seed in range(5)]


def filaments(coil: PathCoil, points: Array, at: Array, weight: Array) -> Array:
    """B by magpylib: turns at these shares of build and height, arcs of short straight pieces."""
    total = np.zeros_like(points)
    for a, wa in zip(at, weight, strict=True):
        flat = np.array(flattened(coil.edge(a * coil.build), 60))
        for b, wb in zip(at, weight, strict=True):
            z = np.full(len(flat) + 1, coil.bottom + b * (coil.top - coil.bottom))
            line = magpylib.current.Polyline(current=wa * wb * coil.sense * coil.turns,
                                             vertices=np.c_[np.r_[flat, flat[:1]], z])
            total += line.getB(points.T).T
    return total


@pytest.mark.parametrize("coil", PATHS)
def test_field_is_that_of_many_filaments(coil: PathCoil) -> None:
    """Outside by Gauss's points; in the middle of the winding by those of cells, between which its places lie."""
    rng = np.random.default_rng(1)
    away = np.concatenate([rng.uniform([-25 * MM, -25 * MM, 0], [25 * MM, 25 * MM, 8 * MM], (12, 3)),
                           rng.uniform([-4 * MM, -6 * MM, -6 * MM], [4 * MM, 2 * MM, -1 * MM], (5, 3))
                           + [coil.x_centre, 0, 0]]).T
    ours, theirs = field(coil, away), filaments(coil, away, *gauss(6))
    assert np.max(np.linalg.norm(ours - theirs, axis=0) / np.linalg.norm(theirs, axis=0)) < 2e-4
    middle = np.array(flattened(coil.edge(coil.build / 2), 2))[::3]
    inside = np.c_[middle, np.full(len(middle), -4 * MM)].T
    ours, theirs = field(coil, inside), filaments(coil, inside, (np.arange(12) + 0.5) / 12, np.full(12, 1 / 12))
    assert np.max(np.linalg.norm(ours - theirs, axis=0)) < 5e-3 * np.max(np.linalg.norm(theirs, axis=0))


@pytest.mark.parametrize("coil", PATHS[:3])
def test_laws_inside_and_outside(coil: PathCoil) -> None:
    """B = curl A everywhere; div B = 0, and curl B = μ0 J t in the winding."""
    (p,) = [q for q in coil.pieces if q.length][:1]
    (x, y), (tx, ty), (nx, ny) = p.start, p.way, p.outwards
    amid = [x + 0.4 * p.length * tx + 1.3 * MM * nx, y + 0.4 * p.length * ty + 1.3 * MM * ny, -4.5 * MM]
    points, h = np.array([amid, [1 * MM, 0, 1 * MM], [30 * MM, 2 * MM, -4 * MM]]).T, 2e-5

    def slopes(of: object) -> Array:
        return np.stack([(of(coil, points + e) - of(coil, points - e)) / (2 * h)  # type: ignore[operator]
                         for e in h * np.eye(3)[:, :, None]])

    def curl(d: Array) -> Array:
        return np.stack([d[1, 2] - d[2, 1], d[2, 0] - d[0, 2], d[0, 1] - d[1, 0]])

    B, dB = field(coil, points), slopes(field)
    size = np.max(np.linalg.norm(B, axis=0))
    assert np.max(np.abs(curl(slopes(vector_potential)) - B)) < 1e-4 * size
    density = coil.sense * coil.turns / coil.area
    expected = np.zeros((3, 3))
    expected[:, 0] = MU0 * density * np.array([tx, ty, 0.0])
    assert np.max(np.abs(curl(dB) - expected)) < 1e-3 * MU0 * abs(density)
    assert np.max(np.abs(np.einsum("iik->k", dB))) < 1e-3 * MU0 * abs(density)


def test_a_race_track_by_its_path() -> None:
    track = Racetrack(inner_radius=3 * MM, straight=20 * MM, turns=55.0, sense=-1, x_centre=2 * MM, y_centre=1 * MM,
                      build=3 * MM, bottom=-6 * MM, top=-2 * MM)
    box = [(3 * MM, -13 * MM), (3 * MM, 13 * MM), (-3 * MM, 13 * MM), (-3 * MM, -13 * MM)]
    path = path_coil(box, [3 * MM] * 4, build=3 * MM, bottom=-6 * MM, top=-2 * MM, turns=55.0, sense=-1, x=2 * MM,
                     y=1 * MM)
    assert path.bounds == pytest.approx(np.array(track.bounds))
    points = np.random.default_rng(3).uniform(-20 * MM, 20 * MM, (40, 3)).T
    for of in (field, vector_potential):
        a, b = of(track, points, 60), of(path, points, 60)
        assert np.max(np.abs(a - b)) < 1e-5 * np.max(np.abs(a))  # Gauss points round quarters, not halves
    assert inductance(path) == pytest.approx(inductance(track), rel=2e-5)
    assert mean_area(path) == pytest.approx(mean_area(track), rel=1e-12)
    assert (path.inner_radius, path.straight) == pytest.approx((track.inner_radius, track.straight))
    other = Racetrack(inner_radius=4 * MM, straight=9 * MM, turns=10.0, y_centre=4 * MM, build=2 * MM, bottom=1 * MM,
                      top=3 * MM)
    assert mutual(path, other) == pytest.approx(mutual(track, other), rel=2e-5)
    assert linked(other, path) == pytest.approx(mutual(other, track), rel=2e-5)


@pytest.mark.parametrize("coil", PATHS[:3])
def test_inductances(coil: PathCoil) -> None:
    """M either way, L against Gauss points twice as close, and the area of a turn against a dense sum."""
    other = PATHS[0]
    assert mutual(coil, other) == pytest.approx(mutual(other, coil), rel=5e-5)  # of windings that cross, too
    assert inductance(coil) == pytest.approx(linked(coil, coil, n=8), rel=2e-5)
    g, w = np.polynomial.legendre.leggauss(4)
    mean = sum(b / 2 * area(coil.edge(coil.build * (1 + a) / 2)) for a, b in zip(g, w, strict=True))
    assert mean_area(coil) == pytest.approx(mean, rel=1e-9)
    turn = sum(p.length + (p.radius + math.copysign(coil.build / 2, p.turn)) * abs(p.turn) if p.turn else p.length
               for p in coil.pieces)
    assert 2 * coil.straight + 2 * math.pi * coil.mean_radius == pytest.approx(turn, rel=1e-9)


def test_two_squares_of_one_turn() -> None:
    """F. E. Neumann's integral of two equal squares of the side a, a distance d apart, exact (memory)."""
    a, d, thin = 60 * MM, 15 * MM, 0.02 * MM
    far = math.hypot(a, d)
    exact = 2 * MU0 / math.pi * (a * math.log((a + far) / (a + math.sqrt(2 * a * a + d * d)) * far / d)
                                 + math.sqrt(2 * a * a + d * d) - 2 * far + d)
    square = [(s * a / 2, t * a / 2) for s, t in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    low, high = (path_coil(square, [0.0] * 4, build=thin, bottom=z, top=z + thin, turns=1.0) for z in (0.0, d))
    assert mutual(low, high) == pytest.approx(exact, rel=2e-3)  # a turn runs 0.01 mm outside its corners


def test_a_square_coil_of_many_turns() -> None:
    """L = 0.008 N² a [ln(a/(b + c)) + 0.2235 (b + c)/a + 0.726] µH, a in cm: J. G. Brooks and others, *Circular* 74
    of the Bureau of Standards (1924), of a square coil of side a whose section is b by c (memory). Within 1 %."""
    a, b, c = 6.0, 0.3, 0.4
    square = [(s * (a - c) / 2e2, t * (a - c) / 2e2) for s, t in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    coil = path_coil(square, [0.0] * 4, build=c * 1e-2, bottom=0.0, top=b * 1e-2, turns=100.0)
    table = 0.008e-6 * 100**2 * a * (math.log(a / (b + c)) + 0.2235 * (b + c) / a + 0.726)
    assert inductance(coil) == pytest.approx(table, rel=1e-2)
