"""Windings whose build changes along their height: against the same turns one by one, and against the plain coil."""

from __future__ import annotations

import math
from dataclasses import replace

import magpylib
import numpy as np
import pytest
from scipy.special import ellipe, ellipk

from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.shapes.section import CoilSides
from stringflux.solver.coil import air, sides
from stringflux.solver.coil.over_section import over_section

MU0 = 4e-7 * math.pi
D = 0.15e-3
INNER, ROWS = 3e-3, 60
ROUNDING = 1e-10  # of the largest value: closed forms that cancel in other places; A of sides 2e-11, the rest 1e-14
# turns are put for squares, and the outer face for one that goes up every third row: 1 % of the build
BY_TURNS = 1e-3
STEPS = np.arange(10)
PER_ROW = {
    "tapered": np.repeat(20 + np.arange(20), 3),
    "bellied": np.repeat(20 + np.concatenate([STEPS, STEPS[::-1]]), 3),
    "waisted": np.repeat(20 + np.concatenate([STEPS[::-1], STEPS]), 3),
}
BUILDS = {
    "tapered": ((0.0, 19.5), (60.0, 39.5)),
    "bellied": ((0.0, 19.5), (30.0, 29.5), (60.0, 19.5)),
    "waisted": ((0.0, 29.5), (30.0, 19.5), (60.0, 29.5)),
}
SHAPES = tuple(BUILDS)


def wound(shape: str, straight: float = 0.0) -> Racetrack:
    builds = tuple((z * D, w * D) for z, w in BUILDS[shape])
    return Racetrack(inner_radius=INNER, straight=straight, build=max(w for _, w in builds), bottom=0.0,
                     top=ROWS * D, turns=float(PER_ROW[shape].sum()), builds=builds)


def turns(shape: str) -> tuple[np.ndarray, np.ndarray]:
    """Radius and height of every turn (n,), side by side in rows."""
    r = np.concatenate([INNER + D * (np.arange(n) + 0.5) for n in PER_ROW[shape]])
    return r, np.repeat(D * (np.arange(ROWS) + 0.5), PER_ROW[shape])


@pytest.mark.parametrize("shape", SHAPES)
def test_inductance_is_the_sum_over_turns(shape: str) -> None:
    """ΣΣ M of Maxwell's rings; a ring by itself at the mean distance of a square's points, 0.44705 of its side
    (Rosa and Grover 1912, from memory)."""
    r, z = turns(shape)
    assert r.size * D**2 == pytest.approx(wound(shape).area, rel=1e-12)
    a, b = r[:, None], r[None, :]
    apart = z[:, None] - z[None, :] + np.diag(np.full(r.size, 0.44705 * D))
    m = 4 * a * b / ((a + b) ** 2 + apart**2)
    by_turns = MU0 * np.sqrt(a * b) * ((2 / np.sqrt(m) - np.sqrt(m)) * ellipk(m) - 2 / np.sqrt(m) * ellipe(m))
    assert air.inductance(wound(shape)) == pytest.approx(float(by_turns.sum()), rel=BY_TURNS)
    plain = replace(wound(shape), builds=(), build=wound(shape).area / (ROWS * D))  # as much wire, of the mean build
    assert abs(air.inductance(plain) / air.inductance(wound(shape)) - 1) > 3 * BY_TURNS


@pytest.mark.parametrize("shape", SHAPES)
def test_area_and_mean_turn_are_the_means_over_turns(shape: str) -> None:
    r, _ = turns(shape)
    assert wound(shape).mean_radius == pytest.approx(r.mean(), rel=1e-4)  # steps of the face
    assert air.mean_area(wound(shape)) == pytest.approx(float(np.mean(math.pi * (r**2 + D**2 / 12))), rel=3e-4)


@pytest.mark.parametrize("shape", SHAPES)
def test_linkage_of_a_needle_is_the_flux_through_its_turns(shape: str) -> None:
    """A string's piece magnetised along and up: Σ ∮ A·dl round each turn, against M·b of the winding."""
    coil = wound(shape)
    places = np.stack([np.linspace(-8e-3, 8e-3, 17), np.full(17, 1e-3), np.full(17, ROWS * D + 2.5e-3)])
    moments = np.stack([np.linspace(-1.0, 1.0, 17), np.zeros(17), np.linspace(1.0, 0.4, 17)]) * 1e-6
    r, z = turns(shape)
    angle = 2 * np.pi * np.arange(96) / 96
    along = np.stack([-np.sin(angle), np.cos(angle), np.zeros(96)])
    linked = 0.0
    for place, moment in zip(places.T, moments.T, strict=True):
        at = np.stack([np.multiply.outer(r, np.cos(angle)), np.multiply.outer(r, np.sin(angle)),
                       np.broadcast_to(z[:, None], (r.size, 96))]) - place[:, None, None]
        A = MU0 / (4 * np.pi) * np.cross(moment, at, axisb=0, axisc=0) / np.linalg.norm(at, axis=0) ** 3
        linked += float(np.einsum("cna,ca,n->", A, along, r)) * 2 * np.pi / 96
    assert float(np.sum(moments * air.field(coil, places))) == pytest.approx(linked, rel=BY_TURNS)


@pytest.mark.parametrize("shape", SHAPES)
def test_race_track_field_is_that_of_filaments(shape: str) -> None:
    coil = wound(shape, straight=30e-3)
    points = np.array([[0.3e-3, -16e-3, 12e-3], [5e-3, 5e-3, 11e-3], [14e-3, 3e-3, 6e-3], [1e-3, 19e-3, 11e-3],
                       [0.0, 0.0, 5e-3]]).T
    t = np.linspace(0, np.pi, 181)
    total = np.zeros_like(points)
    for u, z, weight in zip(*over_section(coil, 8), strict=True):
        rho = (INNER + u) * (1 + (t[1] - t[0]) ** 2 / 12)  # same mean radius for the polygon as for the arc
        x, y = rho * np.cos(t), rho * np.sin(t) + coil.straight / 2
        line = np.c_[np.r_[x, -x, x[:1]], np.r_[y, -y, y[:1]], np.full(2 * t.size + 1, z)]
        total += coil.turns * weight * magpylib.current.Polyline(current=1.0, vertices=line).getB(points.T).T
    found = air.field(coil, points, angles=24)
    assert np.max(np.abs(found - total) / np.linalg.norm(total, axis=0)) < 5e-5  # pieces of arcs


def test_curl_of_vector_potential_is_the_field() -> None:
    coil, h = wound("waisted", straight=30e-3), 1e-5
    p = np.random.default_rng(1).uniform([-8e-3, -20e-3, 9.5e-3], [8e-3, 20e-3, 15e-3], (20, 3)).T
    d = np.empty((3, 3, p.shape[1]))  # d[i, j] = ∂A_j/∂x_i
    for i, e in enumerate(h * np.eye(3)):
        d[i] = (air.vector_potential(coil, p + e[:, None]) - air.vector_potential(coil, p - e[:, None])) / (2 * h)
    curl = np.stack([d[1, 2] - d[2, 1], d[2, 0] - d[0, 2], d[0, 1] - d[1, 0]])
    B = air.field(coil, p)
    assert np.max(np.abs(curl - B)) < 1e-5 * np.max(np.abs(B))


@pytest.mark.parametrize("straight", [0.0, 50e-3])
def test_the_same_build_everywhere_is_the_plain_coil(straight: float) -> None:
    plain = Racetrack(inner_radius=2.5e-3, straight=straight, build=4.2e-3, bottom=-12e-3, top=-1e-3, turns=7000.0,
                      y_centre=1e-3, x_centre=0.5e-3)
    alike = replace(plain, builds=((-12e-3, 4.2e-3), (-5e-3, 4.2e-3), (-1e-3, 4.2e-3)))
    rng = np.random.default_rng(1)
    points = np.concatenate([rng.uniform(-40e-3, 40e-3, (3, 200)), rng.uniform(-9e-3, 9e-3, (3, 200)),
                             np.array([[3e-3, 7.2e-3, 3e-3], [1e-3, 1e-3, 1e-3], [-12e-3, -1e-3, -5e-3]])], axis=1)
    for of in (air.field, air.vector_potential):
        assert np.abs(of(alike, points) - of(plain, points)).max() < ROUNDING * np.abs(of(plain, points)).max()
    one = replace(plain, builds=((-12e-3, 4.2e-3), (-1e-3, 4.2e-3)))  # the same Gauss points
    assert air.inductance(one) == pytest.approx(air.inductance(plain), rel=1e-10)
    assert air.mean_area(alike) == pytest.approx(air.mean_area(plain), rel=1e-14)
    assert alike.mean_radius == pytest.approx(plain.mean_radius, rel=1e-14)


def test_sides_of_the_same_build_are_the_plain_sides() -> None:
    plain = CoilSides(inner=2.5e-3, build=4.2e-3, bottom=-12e-3, top=-1e-3, turns=100.0, centre=1e-3)
    alike = replace(plain, builds=((-12e-3, 4.2e-3), (-5e-3, 4.2e-3), (-1e-3, 4.2e-3)))
    points = np.random.default_rng(2).uniform(-20e-3, 20e-3, (2, 300))
    for of in (sides.field, sides.vector_potential):
        assert np.abs(of(alike, points) - of(plain, points)).max() < ROUNDING * np.abs(of(plain, points)).max()
    one = replace(alike, builds=alike.builds[::2])
    assert sides.inductance(one) == pytest.approx(sides.inductance(plain), rel=1e-12)


@pytest.mark.parametrize("shape", SHAPES)
def test_sides_are_those_of_a_very_long_race_track(shape: str) -> None:
    """In the middle of 4 m: b of the endless sides, and L per metre of what the length adds."""
    long = wound(shape, straight=4.0)
    endless = CoilSides(inner=INNER, build=long.build, bottom=long.bottom, top=long.top, builds=long.builds,
                        turns=long.turns)
    p = np.random.default_rng(3).uniform([-15e-3, -5e-3], [15e-3, 15e-3], (60, 2)).T
    b = air.field(long, np.stack([p[0], np.zeros(60), p[1]]))
    assert sides.field(endless, p) == pytest.approx(b[[0, 2]], abs=1e-4 * np.abs(b).max())
    half, whole = (air.inductance(replace(long, straight=s), n=12) for s in (0.2, 0.4))
    assert sides.inductance(endless) == pytest.approx((whole - half) / 0.2, rel=1e-3)


@pytest.mark.parametrize("shape", SHAPES)
def test_gauss_points_settle(shape: str) -> None:
    coil = wound(shape, straight=30e-3)
    fine = air.inductance(coil, n=16, angles=24)
    assert [abs(air.inductance(coil, n=n) / fine - 1) < limit for n, limit in ((3, 2e-3), (5, 2e-5))] == [True, True]
