"""The 3-D solver gives the same numbers on every run, whatever else draws from numpy's generator."""

from __future__ import annotations

import numpy as np

from stringflux.cases import load_case
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.solid_inputs import solid_inputs
from stringflux.solver.solid.solve import solve_solid


def test_a_build_has_the_same_numbers_on_every_run() -> None:
    case = load_case("stacked-six")
    inputs = solid_inputs(case, "draft", case_materials(case))
    found = []
    for seed in (1, 2):
        np.random.seed(seed)  # what another run may have drawn
        solved = solve_solid(inputs.bodies, inputs.coils, dict(inputs.materials), quality=inputs.quality,
                             history=inputs.history)
        found.append((solved.matrix.tolist(), solved.face_field(0.5e-3).tolist()))
    assert found[0] == found[1]
