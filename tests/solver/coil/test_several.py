"""Inductances between coils in air against closed forms, filaments and the laws they obey."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import magpylib
import numpy as np
import pytest

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import Racetrack
from stringflux.solver.coil.air import field, inductance, mean_area, mutual, vector_potential
from stringflux.solver.coil.several import inductance_matrix_air
from stringflux.solver.constants import MU0
from stringflux.solver.interpolation import gauss

COIL = Racetrack(inner_radius=3e-3, straight=50e-3, build=4e-3, bottom=-13e-3, top=-2e-3, turns=1)
BESIDE = replace(COIL, x_centre=18e-3)
TOUCHING = replace(COIL, x_centre=14e-3, turns=3.0, sense=-1)
UNLIKE = replace(COIL, x_centre=17e-3, y_centre=3e-3, build=2e-3, bottom=-9e-3, turns=2.0)
LOWER, UPPER = replace(COIL, top=-7.5e-3), replace(COIL, bottom=-7.5e-3)
INNER, OUTER = replace(COIL, build=2e-3), replace(COIL, inner_radius=5e-3, build=2e-3)
# What 8 Gauss points per direction leave: 24 change the worst of these pairs, nested and touching, by 5e-7.
POINTS = 2e-6


@pytest.mark.parametrize(("a", "b", "d", "nH"), [(0.20, 0.25, 0.10, 248.78736), (0.10, 0.10, 0.05, 111.26109),
                                                 (2.5e-3, 10e-3, 4e-3, 0.993273)])
def test_maxwell_loops(a: float, b: float, d: float, nH: float) -> None:
    """Coaxial loops (Maxwell, Treatise art. 701; first Grover's example), windings of hardly any build."""
    # thinner windings, and the differences of the primitives lose the digits that are compared
    first, second = (Racetrack(inner_radius=r - t / 2, straight=0, build=t, bottom=z - t / 2, top=z + t / 2, turns=1)
                     for r, z, t in ((a, 0.0, 3e-4 * a), (b, d, 3e-4 * b)))
    assert mutual(first, second) == pytest.approx(nH * 1e-9, rel=POINTS, abs=0)


@pytest.mark.parametrize("pair", [(COIL, BESIDE), (COIL, TOUCHING), (COIL, UNLIKE), (LOWER, UPPER), (INNER, OUTER),
                                  (LOWER, replace(UPPER, y_centre=2e-3))])
def test_both_ways_alike_and_more_points_change_nothing(pair: tuple[Racetrack, Racetrack]) -> None:
    """Flux of a through b and of b through a: two unlike integrals of one number (Neumann)."""
    a, b = pair
    there = mutual(a, b)
    assert mutual(b, a) == pytest.approx(there, rel=POINTS)
    assert mutual(a, b, 16) == pytest.approx(there, rel=POINTS)


@pytest.mark.parametrize(("first", "second"), [(LOWER, UPPER), (INNER, OUTER)])
def test_two_parts_of_one_coil(first: Racetrack, second: Racetrack) -> None:
    """L = L₁ + L₂ + 2M for a coil cut in two, with the parts' turns in proportion (exact)."""
    half = [replace(c, turns=0.5) for c in (first, second)]
    matrix = inductance_matrix_air(half)
    assert float(np.sum(matrix)) == pytest.approx(inductance(COIL), rel=2e-5)  # what 5 points leave of L itself
    fine = sum(mutual(a, b, 16) for a in half for b in half)
    assert fine == pytest.approx(inductance(COIL, 16), rel=1e-8)


def _ring(coil: Racetrack, rho: float, z: float, corners: int) -> Array:
    """A turn as a closed polygon of the turn's mean radius, (n, 3)."""
    t = np.linspace(0, math.pi, corners)
    r = rho * (1 + (t[1] - t[0]) ** 2 / 12)
    x, y = r * np.cos(t), r * np.sin(t) + coil.straight / 2
    flat = np.c_[np.r_[x, -x, x[:1]] + coil.x_centre, np.r_[y, -y, y[:1]] + coil.y_centre]
    return np.c_[flat, np.full(len(flat), z)]


def _turns(coil: Racetrack, n: int, corners: int) -> list[tuple[float, Array]]:
    g, w = gauss(n)
    return [(wa * wb, _ring(coil, coil.inner_radius + coil.build * a, coil.bottom + (coil.top - coil.bottom) * b,
                            corners)) for a, wa in zip(g, w, strict=True) for b, wb in zip(g, w, strict=True)]


def test_side_by_side_against_filaments() -> None:
    """Neumann's double sum over straight pieces: M = μ0/4π Σ Σ dl·dl'/R, 4 × 4 turns each, midpoints."""
    total = 0.0
    for wa, a in _turns(COIL, 4, 61):
        for wb, b in _turns(BESIDE, 4, 61):
            (pa, da), (pb, db) = (_pieces(v) for v in (a, b))
            R = np.linalg.norm(pa[:, None] - pb[None], axis=2)
            total += wa * wb * float(np.sum((da @ db.T) / R))
    # midpoints of pieces of 0.8 mm at most, 4 mm and more apart: 1e-3 of the square of their ratio
    assert mutual(COIL, BESIDE) == pytest.approx(MU0 / (4 * math.pi) * total, rel=1e-3)


def _pieces(ring: Array) -> tuple[Array, Array]:
    """Middles and vectors (n, 3) of short pieces of a polygon."""
    fine = [ring[:1]]
    for p, q in pairwise(ring):
        n = max(1, math.ceil(np.linalg.norm(q - p) / 0.8e-3))
        fine.append(p + (q - p) * np.arange(1, n + 1)[:, None] / n)
    whole = np.concatenate(fine)
    return (whole[1:] + whole[:-1]) / 2, np.diff(whole, axis=0)


def test_field_of_a_coil_off_the_middle_against_magpylib() -> None:
    points = np.array([[17.3e-3, -25e-3, 3e-3], [8e-3, 5e-3, 3e-3], [0.0, 31e-3, 1e-3]]).T
    whole = np.zeros_like(points)
    for w, ring in _turns(UNLIKE, 8, 241):
        line = magpylib.current.Polyline(current=UNLIKE.turns, vertices=ring)
        whole += w * line.getB(points.T).T
    error = np.linalg.norm(field(UNLIKE, points) - whole, axis=0) / np.linalg.norm(whole, axis=0)
    assert float(np.max(error)) < 1e-4  # limited by the filaments


def test_a_coil_moves_with_its_field() -> None:
    p = np.array([[2e-3, 12e-3], [11e-3, -28e-3], [3e-3, -5e-3]])
    by = np.array([[18e-3], [0.0], [0.0]])
    assert field(BESIDE, p + by) == pytest.approx(field(COIL, p), rel=1e-9)
    assert vector_potential(BESIDE, p + by) == pytest.approx(vector_potential(COIL, p), rel=1e-9)
    assert inductance(BESIDE) == pytest.approx(inductance(COIL), rel=1e-9)


def test_far_apart_they_are_dipoles() -> None:
    """M → −μ0 A₁A₂/(4π d³) beside, μ0 A₁A₂/(2π d³) above (exact in the limit)."""
    a = replace(COIL, turns=50.0)
    area = 50.0 * mean_area(COIL) * mean_area(COIL)
    d = 2.0  # the next term is of the order (size/d)²: 50 mm on 2 m
    beside, above = replace(COIL, x_centre=d), replace(COIL, bottom=d - 13e-3, top=d - 2e-3)
    assert mutual(a, beside) == pytest.approx(-MU0 * area / (4 * math.pi * d**3), rel=2e-3)
    assert mutual(a, above) == pytest.approx(MU0 * area / (2 * math.pi * d**3), rel=2e-3)


def test_turns_and_senses() -> None:
    matrix = inductance_matrix_air([COIL, TOUCHING])
    plain = mutual(COIL, replace(TOUCHING, turns=1.0, sense=1))
    assert matrix[0, 1] == matrix[1, 0] == pytest.approx(-3 * plain, rel=1e-12)
    assert matrix[1, 1] == pytest.approx(9 * matrix[0, 0], rel=1e-9)
    assert np.all(np.linalg.eigvalsh(matrix) > 0)
