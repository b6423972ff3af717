"""Bars of finite length: closed forms along y, a box magnet, the limit of endless bars, flux along steel."""

from __future__ import annotations

import magpylib
import numpy as np
import pytest

from rigs.fields.plane_bodies import HARD, steel
from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.bars import PLANE_QUALITIES
from stringflux.geometry.shapes.long_bars import LongBuild
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.shapes.section import PlanePart, PlaneShape, box
from stringflux.solver.coil import sides as plane_coil
from stringflux.solver.materials import find_material
from stringflux.solver.plane.along_y import Along, couplings, hats, hats_at, knots, overlap, rising, rising_at, whole
from stringflux.solver.plane.solve import SolvedBars, solve_bars

BLADE = PlanePart(material="blade", outline=box(-1.5e-3, 1.5e-3, -12e-3, 0.0))
BAR = PlanePart(material="bar", outline=box(-5e-3, 5e-3, -17e-3, -12e-3), magnetisation=(0, 1))
LINEAR = {"blade": steel(200), "bar": HARD}
OVER = np.array([[0.0, 1e-3, 4e-3], [0.0, 0.0, 0.0], [2e-3, 1.5e-3, 3e-3]])


def build(half: float, *parts: PlanePart) -> LongBuild:
    coil = Racetrack(inner_radius=2e-3, straight=2 * half, build=4.5e-3, bottom=-11e-3, top=-2.5e-3, turns=1.0)
    return LongBuild(shape=PlaneShape(parts=parts), halves=(half,) * len(parts), coil=coil)


def solved(half: float, *parts: PlanePart) -> SolvedBars:
    return solve_bars(build(half, *parts), LINEAR, quality=PLANE_QUALITIES["normal"])


def sampled(a: Along, i: int) -> tuple[Array, Array, Array]:
    """Points, weights and values of function i by 12 Gauss points on pieces of 0.4 mm."""
    g, w = np.polynomial.legendre.leggauss(12)
    edges = np.concatenate([np.linspace(lo, hi, int((hi - lo) / 0.4e-3) + 2)[:-1]
                            for lo, hi in zip(a.places[:-1], a.places[1:], strict=True)] + [a.places[-1:]])
    y = ((edges[:-1] + edges[1:]) / 2)[:, None] + np.diff(edges)[:, None] / 2 * g
    weight = (np.diff(edges)[:, None] / 2 * w).ravel()
    _, steps, kinks = a.jumps
    d = y.ravel()[:, None] - a.places
    return y.ravel(), weight, (d > 0) @ steps[i] + np.maximum(d, 0) @ kinks[i]


@pytest.mark.parametrize(("i", "j"), [(0, 0), (3, 4), (-1, -1)])
def test_two_lines_of_charge_by_quadrature(i: int, j: int) -> None:
    """K(d) − 2 ln(d/ρ) ∫AB = ∫∫ A B/R, of hats and of what rises along with its charge on the end faces."""
    y = knots(31e-3, 3e-3)
    a, b = hats(y), rising(knots(32e-3, 5e-3))
    i, j = i % a.count, j % b.count
    d, rho = 0.8e-3, 60e-3
    (p, u, f), (q, v, g) = sampled(a, i), sampled(b, j)
    expected = (f * u) @ (1 / np.hypot(d, p[:, None] - q)) @ (g * v)
    expected += sum(c * float((f * u) @ (1 / np.hypot(d, p - end)))
                    for c, end in zip(b.jumps[0][j], b.places, strict=True))
    ours = couplings(a, b, np.array([d]), rho)[0, i, j] - 2 * np.log(d / rho) * overlap(a, b)[i, j]
    assert ours == pytest.approx(expected, rel=1e-7)


def test_what_rises_is_the_integral_of_the_hats() -> None:
    y = knots(10e-3, 3e-3)
    at = np.linspace(0, 10e-3, 41)
    step = 1e-7
    slope = (rising_at(y, np.minimum(at + step, 10e-3)) - rising_at(y, np.maximum(at - step, 0))) / (
        np.minimum(at + step, 10e-3) - np.maximum(at - step, 0))
    assert slope == pytest.approx(hats_at(y, at), abs=1e-4)
    assert rising(y).integrals == pytest.approx(np.zeros(y.size), abs=1e-12)  # no net charge
    assert hats(y).integrals.sum() == pytest.approx(20e-3)
    assert whole(10e-3).integrals == pytest.approx([20e-3])


def test_a_finite_bar_magnet_is_the_box_of_magpylib() -> None:
    """μ = 1, so its magnetisation is uniform; over the middle, near the end, beyond it, beside it."""
    field = solved(32e-3, BAR).field
    points = np.array([[0.0, 2e-3, 0.0, 9e-3], [0.0, 29e-3, 35e-3, 20e-3], [-9e-3, -9e-3, -10e-3, -14e-3]])
    body = magpylib.magnet.Cuboid(polarization=(0, 0, 1), dimension=(10e-3, 64e-3, 5e-3), position=(0, 0, -14.5e-3))
    exact = body.getB(points.T).T
    error = np.linalg.norm(field.bias(points) - exact, axis=0) / np.linalg.norm(exact, axis=0)
    assert np.max(error) < 1e-3


def test_long_bars_are_the_section() -> None:
    """With 2 m of everything the middle is what the endless section says: fields, and what a metre adds to L."""
    bars = solved(1.0, BLADE, BAR)
    plane = bars.section
    flat = OVER[[0, 2]]
    for ours, endless in ((bars.field.bias(OVER), plane.bias(flat)),
                          (bars.field.reciprocal(OVER), plane.reciprocal(flat))):
        error = np.linalg.norm(ours[[0, 2]] - endless, axis=0) / np.linalg.norm(endless, axis=0)
        assert np.max(error) < 1e-3
    added = bars.matrix[0, 0] - bars.matrix_air[0, 0]
    per_metre = plane.inductance[0, 0] - plane_coil.inductance(plane.coils[0])
    assert added / 2.0 == pytest.approx(per_metre, rel=1e-2)  # the ends lack about a bar's width each


def test_steel_carries_flux_along_the_bar() -> None:
    """A short blade on its bar: the middle loses B₀ to the ends, and more through steel that conducts better."""
    long, short = solved(1.0, BLADE, BAR), solved(31e-3, BLADE, BAR)
    ends = np.array([[0.0, 0.0], [0.0, 26e-3], [2e-3, 2e-3]])
    middle, end = short.field.bias(ends)[2]
    assert middle < long.field.bias(ends)[2, 0]
    assert end > middle  # what runs along leaves at the ends
    real = solve_bars(build(31e-3, BLADE, BAR), {"blade": find_material("steel-1008"), "bar": HARD},
                      quality=PLANE_QUALITIES["draft"])
    assert real.field.bias(ends)[2, 0] < middle


def test_the_table_holds_the_fields() -> None:
    """What strings are given, from the table, is the field itself; also close over the face."""
    from stringflux.solver.seam import Over

    bars = solved(31e-3, BLADE, BAR)
    under = bars.over((Over(y=20e-3, face=0.0, low=1e-3, high=4e-3),), 0.01, 60e-3)
    near, away = under.field.parts(20e-3)
    points = np.array([[0.0, 1.5e-3, -3e-3, 30e-3], [20e-3, 21e-3, 19e-3, 18e-3], [0.8e-3, 1e-3, 2.5e-3, 3e-3]])
    truth = np.concatenate([bars.field.bias(points), bars.field.reciprocal(points)])
    sizes = np.repeat([np.linalg.norm(truth[:3], axis=0), np.linalg.norm(truth[3:], axis=0)], 3, axis=0)
    assert np.max(np.abs(near(points) + away(points) - truth) / sizes) < 1e-2
