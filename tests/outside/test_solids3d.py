"""Builds of bars, slugs and several coils against stored solves of an independent 3-D code (tests/reference3d).

The peer is ngsolve, third order, curved, with another source term for the coils; see tests/reference3d/README.md.
A steel blade on its curve: tests/slow/test_steel_blade.py.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.geometry.shapes.bodies import Box, Point, Revolved, SolidBody
from stringflux.geometry.shapes.row import Racetrack
from stringflux.solver.materials import ConstantPermeability, linear_magnet
from stringflux.solver.solid.solve import SolvedSolid, solve_solid

ITEMS: dict[str, Any] = json.loads((Path(__file__).parents[1] / "reference3d" / "solids.json").read_text())
FIELDS, INDUCTANCE = 1e-2, 5e-3
"""What is asked of fields at the strings and of inductances. Slugs and bar, largest of fields, L, M in %: draft 1.3,
0.8, 1.1; normal 0.6, 0.3, 0.5; fine 0.24, 0.14, 0.22. Stacked coils at normal 0.06, 0.02, 0.02."""

STEEL = ConstantPermeability(name="steel", mu_r=200.0)


def slug(name: str, x: float, y: float, bottom: float = -17e-3, *, magnet: bool = False) -> SolidBody:
    outline = ((0.0, bottom), (2.4e-3, bottom), (2.4e-3, 0.0), (0.0, 0.0))
    return SolidBody(name=name, material="magnet" if magnet else "steel", form=Revolved(outline=outline, x=x, y=y),
                     magnetisation=(0.0, 0.0, 1.0) if magnet else None)


def bar(low: Point, high: Point, way: Point) -> SolidBody:
    return SolidBody(name="bar", material="magnet", form=Box(low=low, high=high), magnetisation=way)


def slugs_and_bar() -> SolvedSolid:
    bodies = (slug("left", -9e-3, 0.0), slug("right", 9e-3, 0.0),
              bar((-6.4e-3, -12e-3, -17e-3), (6.4e-3, 12e-3, -12e-3), (1.0, 0.0, 0.0)))
    coils = [Racetrack(inner_radius=3e-3, straight=0.0, build=4e-3, bottom=-11e-3, top=-2e-3, turns=1.0, x_centre=x)
             for x in (-9e-3, 9e-3)]
    magnet = linear_magnet(name="magnet", remanence=0.4, mu_recoil=1.1)
    return solve_solid(bodies, coils, {"steel": STEEL, "magnet": magnet}, quality=SOLID_QUALITIES["fine"])


def stacked_coils() -> SolvedSolid:
    bodies = tuple(slug(f"rod {i}", 0.0, y * 1e-3, magnet=True)
                   for i, y in enumerate((-26, -15.6, -5.2, 5.2, 15.6, 26)))
    coils = [Racetrack(inner_radius=3e-3, straight=52e-3, build=4e-3, bottom=low, top=high, turns=1.0)
             for low, high in ((-8e-3, -1.5e-3), (-15.5e-3, -9e-3))]
    magnet = linear_magnet(name="magnet", remanence=1.25, mu_recoil=3.5)
    return solve_solid(bodies, coils, {"magnet": magnet}, quality=SOLID_QUALITIES["normal"])


@pytest.mark.slow
@pytest.mark.parametrize(("name", "solve"), [("A_slugs_and_bar", slugs_and_bar), ("E_stacked_coils", stacked_coils)])
def test_against_an_independent_3d_solve(name: str, solve: Any) -> None:
    """Vectors by the modulus of the difference over their own; inductances one by one."""
    solved, record = solve(), ITEMS[name]["fine"]
    points = np.array(record["points_mm"]).T * 1e-3
    theirs = np.array(record["B_bias_mT"]).T * 1e-3
    off = {"B": _miss(solved.field.bias(points), theirs)}
    for k in range(2):
        one = solved.connected(np.eye(2)[k])
        b = np.array(record[f"b_coil_{k + 1}_uT_per_A_turn"]).T * 1e-6
        off[f"b{k + 1}"] = _miss(one.field.reciprocal(points), b)
    assert max(off.values()) < FIELDS, off
    for i, j, key in ((0, 0, "L11"), (1, 1, "L22"), (0, 1, "M12")):
        assert solved.matrix[i, j] == pytest.approx(record[f"{key}_nH_per_turn2"] * 1e-9, rel=INDUCTANCE), key


def _miss(found: Any, theirs: Any) -> float:
    return float(np.max(np.linalg.norm(found - theirs, axis=0) / np.linalg.norm(theirs, axis=0)))
