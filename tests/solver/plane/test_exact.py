"""Planar sections against exact bodies and magpylib."""

from __future__ import annotations

import magpylib
import numpy as np
import pytest

from rigs.fields.plane_bodies import BLADE_COIL, HARD, bar, blade_on_bar, disc, steel
from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.section import CoilSides, PlanePart, PlaneShape
from stringflux.solver.coil import sides as plane_coil
from stringflux.solver.constants import MU0, NU0
from stringflux.solver.plane.section import SolvedPlane, solve_plane

NORMAL, FINE = QUALITIES["normal"], QUALITIES["fine"]
R = 3e-3
ROUND = 1e-4  # a polygon of 96 sides in place of a circle and a fine mesh; measured 2e-5 at most


def mean(plane: SolvedPlane, field: Array) -> float:
    """Over the first part."""
    weight = plane.signal.points[0].weight
    return float(weight @ field.ravel() / np.sum(weight))


def line_dipole(moment: tuple[float, float], points: Array) -> Array:
    """B (2, n) in T of a dipole of so many A·m along y at the origin: μ0/2π [2 (m·t) t/t⁴ − m/t²]."""
    m = np.array(moment)[:, None]
    t2 = np.sum(points**2, axis=0)
    return np.asarray(MU0 / (2 * np.pi) * (2 * np.sum(m * points, axis=0) * points / t2**2 - m / t2))


@pytest.mark.parametrize("x", [0.0, 1e-3])  # half a section, a whole one
@pytest.mark.parametrize("mu", [4.0, 1000.0])
def test_permeable_cylinder_across_a_field(mu: float, x: float) -> None:
    """B = 2μ/(μ+1) B₀ inside, a line dipole outside (exact)."""
    plane = solve_plane(PlaneShape(parts=(disc(R, x=x),)), (), {"body": steel(mu)}, quality=FINE)
    assert plane.half == (x == 0.0)
    answer = plane.signal.answer(lambda t: np.stack([0 * t[0], 1.0 + 0 * t[0]]))
    inside = mean(plane, answer.magnetisation[0][1]) * MU0 * mu / (mu - 1)
    assert inside == pytest.approx(2 * mu / (mu + 1), rel=ROUND)
    points = np.array([[0.5e-3, -2e-3], [4e-3, 5e-3]])
    exact = line_dipole((0.0, 2 * (mu - 1) / (mu + 1) * np.pi * R**2 * NU0), points - np.array([[x], [0.0]]))
    assert plane.charged(answer).field(points) == pytest.approx(exact, rel=ROUND)


@pytest.mark.parametrize(("direction", "parity"), [((0.0, 1.0), -1), ((1.0, 0.0), 1), ((0.6, 0.8), 0)])
def test_magnetised_cylinder(direction: tuple[float, float], parity: int) -> None:
    """B = J/2 inside, a line dipole outside (exact), whichever way it is magnetised."""
    plane = solve_plane(PlaneShape(parts=(disc(R, magnetisation=direction),)), (), {"body": HARD}, quality=FINE)
    assert plane.shape.parity == parity
    inside = [mean(plane, b) for b in plane.bias_state.b[0]]
    assert inside == pytest.approx([d / 2 for d in direction], abs=ROUND)
    points = np.array([[1e-3, -3e-3], [4e-3, 2e-3]])
    exact = line_dipole((direction[0] * np.pi * R**2 * NU0, direction[1] * np.pi * R**2 * NU0), points)
    assert plane.bias(points) == pytest.approx(exact, rel=ROUND)


@pytest.mark.parametrize("direction", [(0.0, 1.0), (1.0, 0.0)])
def test_image_of_a_line_dipole_in_a_steel_half_plane(direction: tuple[float, float]) -> None:
    """Above a half-plane of μ the image at −h has (μ−1)/(μ+1) of m_z and the opposite of m_x (exact).

    The dipole is a magnetised cylinder, the half-plane a block 130 times as wide as it is off: its ends show
    with the square of that.
    """
    mu, h, a = 1e4, 3e-3, 0.5e-3
    shape = PlaneShape(parts=(disc(a, z=h, material="dipole", magnetisation=direction, pieces=48),
                              bar(-0.2, 0.2, -0.1, 0.0, "block")))
    plane = solve_plane(shape, (), {"dipole": HARD, "block": steel(mu)}, quality=NORMAL)
    points = np.array([[0.0, 1e-3, 4e-3], [6e-3, 1.5e-3, 2e-3]])
    m = np.array(direction) * np.pi * a**2 * NU0
    k = (mu - 1) / (mu + 1)
    exact = (line_dipole(tuple(m), points - np.array([[0.0], [h]]))
             + line_dipole((-k * m[0], k * m[1]), points + np.array([[0.0], [h]])))
    error = np.linalg.norm(plane.bias(points) - exact, axis=0) / np.linalg.norm(exact, axis=0)
    assert np.max(error) < 1e-3  # see the block's ends above


@pytest.mark.parametrize("direction", [(0.0, 1.0), (1.0, 0.0), (0.6, -0.8)])
def test_bar_magnet_matches_magpylib(direction: tuple[float, float]) -> None:
    """The mid-plane of a cuboid 4 m long; 1 mm over the face and beside it."""
    plane = solve_plane(PlaneShape(parts=(bar(-3e-3, 3e-3, -4e-3, 0.0, magnetisation=direction),)), (),
                        {"body": HARD}, quality=FINE)
    points = np.array([[0.0, 2e-3, 3.5e-3, 5e-3], [1e-3, 1.5e-3, 1e-3, -2e-3]])
    body = magpylib.magnet.Cuboid(polarization=(direction[0], 0, direction[1]), dimension=(6e-3, 4.0, 4e-3),
                                  position=(0, 0, -2e-3))
    exact = body.getB(np.stack([points[0], 0 * points[0], points[1]]).T)[:, [0, 2]].T
    error = np.linalg.norm(plane.bias(points) - exact, axis=0) / np.linalg.norm(exact, axis=0)
    assert np.max(error) < 5e-4


def test_sides_of_a_coil_match_wires() -> None:
    """Closed forms of B and A against 60 × 60 wires at Gauss points (off the winding they converge fast)."""
    points = np.array([[0.0, 1e-3, 4e-3, -7e-3], [3e-3, -5e-3, 1e-3, -14e-3]])
    g, w = np.polynomial.legendre.leggauss(60)
    B, A = np.zeros((2, 4)), np.zeros(4)
    for side in (1, -1):
        (x0, z0), _, (x1, z1), _ = BLADE_COIL.outline(side)
        x, z = np.meshgrid((x0 + x1 + (x1 - x0) * g) / 2, (z0 + z1 + (z1 - z0) * g) / 2, indexing="ij")
        d = points[:, :, None] - np.stack([x.ravel(), z.ravel()])[:, None, :]
        r2, k = np.sum(d * d, axis=0), side * MU0 / (2 * np.pi) * np.outer(w, w).ravel() / 4
        B += np.stack([(d[1] / r2) @ k, -(d[0] / r2) @ k])
        A -= np.log(r2) @ k / 2
    assert plane_coil.field(BLADE_COIL, points) == pytest.approx(B, rel=1e-10, abs=1e-10 * np.max(np.abs(B)))
    assert plane_coil.vector_potential(BLADE_COIL, points) == pytest.approx(A, rel=1e-10, abs=1e-20)
    assert plane_coil.field(BLADE_COIL, np.array([0.0, -7e-3]))[1] > 0  # B upwards between the sides


def test_inductance_of_two_thin_sides() -> None:
    """Two parallel round wires of radius a, D apart: L' = (μ0/π)(ln D/a + ¼) (exact); a square side c has the
    geometric mean distance 0.44705 c from itself (Maxwell, Treatise art. 692; Grover 1946)."""
    c, D = 1e-3, 40e-3
    coil = CoilSides(inner=D / 2 - c / 2, build=c, bottom=0.0, top=c)
    assert plane_coil.inductance(coil) == pytest.approx(MU0 / np.pi * np.log(D / (0.44705 * c)), rel=2e-5)


def test_a_magnet_without_direction_is_refused() -> None:
    with pytest.raises(CaseError, match="needs a direction"):
        solve_plane(PlaneShape(parts=(bar(0.0, 1e-3, 0.0, 1e-3),)), (), {"body": HARD}, quality=NORMAL)


def test_bars_that_cut_each_other_are_refused() -> None:
    shape = PlaneShape(parts=(*blade_on_bar().parts, bar(1e-3, 4e-3, -10e-3, -8e-3, "keeper")))
    with pytest.raises(CaseError, match=r"'blade'.*'keeper'.*cut each other"):
        solve_plane(shape, (), {"blade": steel(100), "magnet": HARD, "keeper": steel(100)}, quality=NORMAL)


@pytest.mark.parametrize("outline", [((0.0, 0.0), (1e-3, 0.0)), ((0.0, 0.0), (1e-3, 0.0), (2e-3, 0.0))])
def test_a_bar_without_area_is_refused(outline: tuple[tuple[float, float], ...]) -> None:
    with pytest.raises(CaseError, match="enclose an area"):
        PlanePart(material="steel", outline=outline)
