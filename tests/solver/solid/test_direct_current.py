"""Direct currents in coils: their field in air, with magnets and steel, their force. Closed forms and laws; against
another code: tests/outside/test_direct_current.py.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from rigs.fields.blocks import MATERIALS, apart, force_on_box, magnet, upper
from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.geometry.reading.read import read_case
from stringflux.geometry.shapes.bodies import Box, SolidBody
from stringflux.geometry.shapes.coil_path import path_coil
from stringflux.geometry.shapes.row import Racetrack
from stringflux.solver.coil.direct import DirectCurrents, direct_currents
from stringflux.solver.constants import MU0
from stringflux.solver.solid.flux import flux_of_currents, flux_through, flux_within, round_rim
from stringflux.solver.solid.force import Forces
from stringflux.solver.solid.solve import SolvedSolid, solve_magnets, solve_solid

DRAFT = SOLID_QUALITIES["draft"]
RING = Racetrack(inner_radius=9e-3, straight=0, build=2e-3, bottom=-4e-3, top=-1e-3, turns=200)
_LINEAR = 5e-5  # of the field; 2.1e-5 measured: the smallest charges, 2e-5 of all, are left out
_CLOSED_FORM = 1e-5  # measured 2e-6: Gauss's points along arcs


def on_axis(coil: Racetrack, z: Array) -> Array:
    """B of a thick round coil of one ampere on its axis, T.

    Montgomery, *Solenoid Magnet Design* (1969), from memory; derived again by ∫∫ μ0 j a²/2 (a² + z²)^(−3/2) da dz.
    """
    inner, outer = coil.inner_radius, coil.inner_radius + coil.build

    def ends(u: Array) -> Array:
        return u * np.log((outer + np.hypot(outer, u)) / (inner + np.hypot(inner, u)))

    return MU0 * coil.turns / (2 * coil.area) * (ends(coil.top - z) - ends(coil.bottom - z))


def test_on_the_axis_of_a_thick_coil() -> None:
    z = np.linspace(-20e-3, 30e-3, 11)
    points = np.stack([0 * z, 0 * z, z])
    found = direct_currents([RING, replace(RING, turns=5.0, sense=-1)], [0.2, 4.0]).field(points)
    assert found[2] == pytest.approx((0.2 - 4.0 * 5 / 200) * on_axis(RING, z), rel=_CLOSED_FORM)
    assert np.max(np.abs(found[:2])) < 1e-12


def test_helmholtz_pair() -> None:
    """Two thin coils a radius apart: B = (4/5)^1.5 μ0 N I/R, and even to the fourth power of the distance.

    The textbook's formula (for instance Jackson, *Classical Electrodynamics*, problem 5.7, memory).
    """
    radius, side = 50e-3, 0.2e-3
    pair = [Racetrack(inner_radius=radius - side / 2, straight=0, build=side, bottom=z - side / 2, top=z + side / 2,
                      turns=100) for z in (-radius / 2, radius / 2)]
    both = direct_currents(pair, [0.5, 0.5])
    exact = 0.8**1.5 * MU0 * 100 * 0.5 / radius
    middle = both.field(np.zeros((3, 1)))[2, 0]
    assert middle == pytest.approx(exact, rel=_CLOSED_FORM)
    z = np.array([5e-3, 10e-3])
    off = 1 - both.field(np.stack([0 * z, 0 * z, z]))[2] / middle
    assert off == pytest.approx(144 / 125 * (z / radius) ** 4, rel=0.05)


def test_flux_of_a_coil_alone_is_that_of_its_field() -> None:
    square = path_coil([(-5e-3, -6e-3), (6e-3, -6e-3), (6e-3, 5e-3), (-5e-3, 5e-3)], [1e-3] * 4, build=1e-3,
                       bottom=0.0, top=2e-3, turns=10.0)
    direct = direct_currents([square], [1.5])
    rho, weight = np.polynomial.legendre.leggauss(20)
    rho, weight = 2e-3 * (rho + 1), 2e-3 * weight
    angle = np.arange(60) * np.pi / 30
    points = np.stack([np.outer(rho, np.cos(angle)), np.outer(rho, np.sin(angle)), np.full((20, 60), 3e-3)])
    exact = np.pi / 30 * float(np.sum(direct.field(points)[2] * (rho * weight)[:, None]))
    rim = round_rim(np.array([0.0, 0.0, 3e-3]), np.array([0.0, 0.0, 1.0]), 4e-3)
    assert flux_of_currents(direct, rim) == pytest.approx(exact, rel=1e-4)


BODIES = (SolidBody(name="bar", material="m", form=Box(low=(-6e-3, -3e-3, -9e-3), high=(6e-3, 3e-3, -6e-3)),
                    magnetisation=(1.0, 0.0, 0.0)),
          SolidBody(name="core", material="s", form=Box(low=(-4e-3, -3e-3, -5e-3), high=(4e-3, 3e-3, 1e-3))))
POINTS = np.array([[0.0, 0.0, 4e-3], [3e-3, -2e-3, 5e-3], [10e-3, 1e-3, -2.5e-3]]).T


@pytest.fixture(scope="module")
def built() -> Any:
    def solve(current: float) -> SolvedSolid:
        return solve_solid(BODIES, [RING], MATERIALS, quality=DRAFT, direct=direct_currents([RING], [current]))

    return SimpleNamespace(solve=solve, plus=solve(2.0), minus=solve(-2.0))


def test_currents_and_magnets_add(built: Any) -> None:
    """Over a magnet whose potential is odd about x = 0 and a coil whose own is even: no plane halves both."""
    assert built.plus.space.mesh.symmetry.axes == (1,)
    without = solve_solid(BODIES, [RING], MATERIALS, quality=DRAFT, space=built.plus.space)
    more = solve_solid(BODIES, [RING], MATERIALS, quality=DRAFT, space=built.plus.space,
                       direct=direct_currents([RING], [6.0]))
    plus, minus, none, three = (s.field.bias(POINTS) for s in (built.plus, built.minus, without, more))
    assert apart((plus + minus) / 2, none) < _LINEAR
    assert apart((three - none) / 3, plus - none) < _LINEAR
    assert np.linalg.norm(plus - none) > 0.1 * np.linalg.norm(none)


def test_of_the_current_it_is_the_coil_field_per_ampere(built: Any) -> None:
    """Of linear steel B of a current is what one ampere makes for signals."""
    of_current = (built.plus.field.bias(POINTS) - built.minus.field.bias(POINTS)) / 4
    assert apart(of_current, built.plus.field.reciprocal(POINTS)) < 1e-4


def test_strings_hear_the_current(built: Any) -> None:
    near, away = built.plus.field.parts(0.0)
    assert (near(POINTS) + away(POINTS))[:3] == pytest.approx(built.plus.field.bias(POINTS), abs=1e-9)


def test_force_on_a_magnet_over_a_coil() -> None:
    """Without steel: ∮ σ B dS over the magnet's faces, in the coil's own field."""
    box, way = upper(0.5e-3), (0.6, 0.0, 0.8)
    direct = direct_currents([RING], [3.0])
    found = Forces(solve_magnets([magnet("one", box, way)], MATERIALS, quality=DRAFT, direct=direct)).on([0])
    exact = force_on_box(box, way, SimpleNamespace(getB=lambda p: direct.field(p.T).T))
    assert found.pitches > 2
    assert apart(found.charges, exact) < 2e-3


def test_flux_has_the_coils_part() -> None:
    box, rim = upper(0.5e-3), round_rim(np.array([2e-3, 0.0, -2.5e-3]), np.array([0.0, 0.0, 1.0]), 15e-3)
    direct = direct_currents([RING], [3.0])
    both, alone = (flux_through(solve_magnets([magnet("one", box)], MATERIALS, quality=DRAFT, direct=d), rim).flux
                   for d in (direct, DirectCurrents()))
    assert both - alone == pytest.approx(flux_of_currents(direct, rim), rel=1e-6)


RING_CASE: Any = {
    "body": [{"name": "ring", "shape": "revolved", "material": "soft", "lies": "across the strings",
              "outline": [["5 mm", "0 mm"], ["8 mm", "0 mm"], ["8 mm", "4 mm"], ["5 mm", "4 mm"]],
              "centre": ["9.5 mm", "0 mm"], "bottom": "-8 mm"}],
    "coil": {"path": [["-8 mm", "-10 mm"], ["8 mm", "-10 mm"], ["8 mm", "10 mm"], ["-8 mm", "10 mm"]],
             "corner": "2 mm", "build": "3 mm", "bottom": "-2 mm", "top": "2 mm", "turns": 100, "wire": "0.1 mm",
             "direct_current": "100 mA"},
    "materials": {"soft": {"kind": "constant permeability", "permeability": 5000}},
}


def test_through_a_closed_ring() -> None:
    """One side of a coil runs through a ring of steel: B = μ N I/(2π r) in it, which no gradient field has.

    What leaks beside a ring of 5000 μ0 and the coil's own field are some 1e-3 of that.
    """
    case = read_case(RING_CASE, without_strings=True)
    (coil,) = case.racetracks()
    solved = solve_solid(case.solid_bodies(), [replace(coil, turns=1.0)], {"soft": MATERIALS["s"]}, quality=DRAFT,
                         direct=direct_currents([coil], [0.1]))
    e, b = solved.space.bodies[0], solved.bias.b[0]
    x, z = e.points[0] - 9.5e-3, e.points[2]
    found = float(np.sum((b[2] * x - b[0] * z) / (x * x + z * z) * e.weight)) * solved.space.copies
    exact = MU0 * 5000.0 * 10.0 * 4e-3 * np.log(8 / 5)  # ∫ B_φ/r dV
    assert abs(found) == pytest.approx(exact, rel=5e-3)
    assert solved.signal.inductance[0, 0] == pytest.approx(exact / 10.0 / (2 * np.pi), rel=2e-2)


def test_steel_whose_image_alone_is_meshed() -> None:
    """Two posts, mirror images in y = 0: half a mesh has one of them, and the flux in both is the same."""
    posts = [SolidBody(name=str(y), material="s", form=Box(low=(-2e-3, y - 1e-3, -6e-3), high=(2e-3, y + 1e-3, 1e-3)))
             for y in (-4e-3, 4e-3)]
    solved = solve_magnets(posts, MATERIALS, quality=DRAFT, direct=direct_currents([RING], [1.0]))
    assert solved.space.mesh.symmetry.axes == (0, 1)
    one, other = (flux_within(solved, [i], 2, -2.5e-3)[0] for i in (0, 1))
    assert one == pytest.approx(other, rel=1e-12)
    assert one > 0
