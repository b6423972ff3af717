"""What the doubt about a signal's permeability does to L and S: against whole solutions with other materials."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from rigs.cases.case_data import USES
from stringflux.cases import load_case
from stringflux.cases.solved.abstract import SolvedCase
from stringflux.cases.solved.signal_doubt import signal_materials, signal_notes
from stringflux.cases.solved.solve import solved_case
from stringflux.geometry.reading.read import changed_case

SAME = 1e-9
AS_B = 0.15  # of the change of S: what poles answer to a string's own field is kept


def again(case: Any, materials: Any) -> SolvedCase:
    solved = solved_case(case, "draft")
    solved.__dict__["materials"] = materials
    return solved


def test_inductance_and_field_are_those_of_a_whole_solution() -> None:
    case = load_case("bench-single")
    solved = solved_case(case, "draft")
    whole = [again(case, ends).solution() for ends in signal_materials(solved.materials)]
    point = np.array([[0.0], [0.0], [4.2e-3]])
    for end, other in zip(solved.signal_ends(), whole, strict=True):
        assert end.inductance == pytest.approx(other.inductance, rel=SAME)
        assert end.field.reciprocal(point)[2] == pytest.approx(other.field.reciprocal(point)[2], rel=1e-6)
    assert whole[0].inductance < solved.solution().inductance < whole[1].inductance


def test_s_goes_nearly_as_the_field_at_the_string() -> None:
    from stringflux.cases.jobs.prediction import prediction_of

    case = load_case("bench-single")
    solved = solved_case(case, "draft")
    before = prediction_of(solved, maps=False).strings[0].sensitivity
    at = np.array([[0.0], [0.0], [solved.strings[0].shape.axis_height]])
    b = solved.solution().field.reciprocal(at)[2, 0]
    for end, materials in zip(solved.signal_ends(), signal_materials(solved.materials), strict=True):
        other = prediction_of(again(case, materials), maps=False).strings[0].sensitivity
        said = end.field.reciprocal(at)[2, 0] / b - 1
        assert said == pytest.approx(other / before - 1, rel=AS_B)


def test_what_is_said() -> None:
    (said,) = signal_notes(solved_case(load_case("bench-single"), "draft"))
    assert said.startswith("a signal meets a permeability of 2.85 (2.4 to 4) in alnico-5; by that doubt alone L is ")
    steel = {"pole.1.part.1": {"material": "steel-1008", "diameter": "4.8 mm", "length": "17 mm"}}
    (unheard,) = signal_notes(solved_case(changed_case(load_case("bench-single"), steel), "draft"))
    assert unheard.endswith(" H, which the printed ranges leave out.")  # no S to tell of
    own = {"materials.mine": {"kind": "linear magnet", "remanence": "1 T", "recoil_permeability": 3},
           "pole.1.part.1.material": "mine"}
    case = changed_case(load_case("bench-single"), own, materials={**USES, "alnico-5": "magnet"})
    assert signal_notes(solved_case(case, "draft")) == ()
