"""Two alnico-5 rods at the knee against another code: ngsolve, which meshes both rods and knows of no orders
(`tests/reference3d/knee_ngsolve.py`); only the magnets' curve is shared."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from measure.knee import OVER_TWO, STORED, TWO, row_case
from stringflux.cases.solved.solve import solved_case
from stringflux.solver.materials import MagnetCurve

REFERENCE = json.loads(STORED.with_name("knee_ngsolve.json").read_text(encoding="utf-8"))
FINE, COARSE = REFERENCE["meshes"]
WITHIN = 5e-3  # of |B|; 3.8e-3 found
ACROSS = 3.0  # μ_⊥ of the rods that it solved


@pytest.mark.parametrize("polarity", ["++", "+-"])
def test_the_field_over_two_rods_is_that_of_another_code(polarity: str) -> None:
    fine, coarse = (np.array(REFERENCE[f"{polarity} {mesh:g}"]["b"]) for mesh in (FINE, COARSE))
    size = np.linalg.norm(fine, axis=1)
    assert np.max(np.linalg.norm(fine - coarse, axis=1) / size) < 2e-3  # 1.5e-3 found
    points = np.array([[1e-7, 1e-3 * y, 1e-3 * (1.0 + z)] for y, z in REFERENCE["points"]]).T  # the face lies at 1 mm
    case = row_case("alnico-5", polarity, "after", TWO, OVER_TWO)
    solved = solved_case(case, "normal")
    rods = solved.materials["alnico-5"]
    assert isinstance(rods, MagnetCurve)
    solved.__dict__["materials"] = {**solved.materials, "alnico-5": replace(rods, mu_transverse=ACROSS)}
    found = solved.solution().field.bias(points)[1:].T
    assert np.max(np.linalg.norm(found - fine, axis=1) / size) < WITHIN
