"""A steel blade on a bar magnet against the stored solve of an independent 3-D code (tests/reference3d)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.geometry.shapes.bodies import Box, SolidBody
from stringflux.geometry.shapes.row import Racetrack
from stringflux.solver.materials import ConstantPermeability, linear_magnet, soft_from_points
from stringflux.solver.solid.solve import SolvedSolid, solve_solid

ITEMS: dict[str, Any] = json.loads((Path(__file__).parents[1] / "reference3d" / "solids.json").read_text())
FIELDS, INDUCTANCE = 1e-2, 5e-3
"""What is asked of fields at the strings and of inductances."""


def blade(steel: Any) -> SolvedSolid:
    bodies = (SolidBody(name="blade", material="steel",
                        form=Box(low=(-1.5e-3, -31e-3, -14e-3), high=(1.5e-3, 31e-3, 0.0))),
              SolidBody(name="bar", material="magnet", magnetisation=(0.0, 0.0, 1.0),
                        form=Box(low=(-3e-3, -31e-3, -20e-3), high=(3e-3, 31e-3, -14e-3))))
    coil = Racetrack(inner_radius=2e-3, straight=60e-3, build=4.5e-3, bottom=-12e-3, top=-2e-3, turns=1.0)
    magnet = linear_magnet(name="magnet", remanence=0.4, mu_recoil=1.1)
    return solve_solid(bodies, [coil], {"steel": steel, "magnet": magnet}, quality=SOLID_QUALITIES["normal"])


def test_steel_blade_on_a_bar() -> None:
    """The bias on the steel curve of TEAM problem 13, b and L with a constant permeability of 150."""
    record = ITEMS["C_blade_on_bar"]["coarse"]
    points = np.array(record["points_mm"]).T * 1e-3
    curve = soft_from_points(name="steel", points=[(h, b) for b, h in ITEMS["team13_points_B_T_H_A_per_m"]])
    off = {"B": _miss(blade(curve).field.bias(points), np.array(record["B_bias_mT"]).T * 1e-3)}
    signal = blade(ConstantPermeability(name="steel", mu_r=150.0))
    off["b"] = _miss(signal.field.reciprocal(points), np.array(record["b_uT_per_A_turn"]).T * 1e-6)
    assert max(off.values()) < FIELDS, off
    assert signal.matrix[0, 0] == pytest.approx(record["L_nH_per_turn2"] * 1e-9, rel=INDUCTANCE)


def _miss(found: Any, theirs: Any) -> float:
    return float(np.max(np.linalg.norm(found - theirs, axis=0) / np.linalg.norm(theirs, axis=0)))
