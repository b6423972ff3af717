"""Poles of any form in a row: the same bodies written one by one, the row's own solver, checks and words."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest

from stringflux.cases import solve
from stringflux.cases.files.load import built_in_uses, find_case, read_toml
from stringflux.cases.solved.choice import choose
from stringflux.cases.studies.designs.effort import words_beyond_a_row
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.read import read_case

pytestmark = pytest.mark.usefixtures("shared_solutions")

SOLVERS = 0.005  # 0.2 % at fine, 0.55 % at normal: what the 3-D mesh leaves of a round rod as well
FORMS = 1e-3  # 0.03 %: a rod as the kernel's cylinder or as a body of revolution, the strings answered in 3-D or not
STILL = [{"about": "z", "by": "0 deg"}]  # a turn by nothing makes a cylinder one of the kernel's
ROD = {"material": "alnico-5", "diameter": "4.8 mm", "length": "17 mm", "polarity": "north up"}
OTHER = {**ROD, "polarity": "south up"}
FORMED, TURNED = ({"shape": "cylinder", "rotated": STILL, **rod} for rod in (ROD, OTHER))
WEDGE = {"shape": "wedge", "material": "steel-1008", "along": "5 mm", "across": "3 mm", "height": "10 mm",
         "tip_along": "1 mm", "tip_height": "3 mm"}
LATHE = {"shape": "revolved", "material": "alnico-5", "polarity": "north up",
         "outline": [["0 mm", "0 mm"], ["2.4 mm", "0 mm"], ["2.4 mm", "17 mm"], ["0 mm", "17 mm"]]}


def case_of(*parts: dict[str, Any], count: int = 2, spacing: str = "10.4 mm", **changes: Any) -> Case:
    """A row whose poles are these in turn, a string over each of the first two."""
    return read_case(content(*parts, count=count, spacing=spacing, **changes), materials=built_in_uses())


def content(*parts: dict[str, Any], count: int, spacing: str = "10.4 mm", **changes: Any) -> dict[str, Any]:
    made = copy.deepcopy(read_toml(find_case("baritone-six")))
    made["row"] = {"count": count, "spacing": spacing, "face": ["1.5 mm", "1.2 mm", *["1.5 mm"] * 10][:count]}
    made["pole"] = [{"at": list(range(i + 1, count + 1, len(parts))), "part": [part]} for i, part in enumerate(parts)]
    made["coil"] = {"inner_width": "6.4 mm", "inner_length": f"{(count - 1) * float(spacing[:-3]) + 7} mm",
                    "outer_width": "14 mm", "bottom": "-13 mm", "top": "-1 mm", "turns": 6000, "wire": "42 AWG"}
    made["strings"] = {"scale": "25.5 in", "gap": "2 mm", "bridge_distance": "95 mm"}
    half = (count - 1) / 2 * float(spacing[:-3])
    made["string"] = [{**{k: v for k, v in s.items() if k in ("gauge", "core", "pitch")},
                       "position": f"{i * float(spacing[:-3]) - half} mm"}
                      for i, s in enumerate(made["string"][:min(count, 2)])]
    return made | changes


def figures(case: Case, quality: str, solver: str = "auto") -> list[float]:
    """Of each string alone: what those beside it do is counted over round poles and left out over others."""
    pickup = solve(case, quality=quality, solver=solver)
    found, beside = pickup.prediction(maps=False), pickup.neighbours()
    return [v for s, e in zip(found.strings, beside, strict=True) for v in (
        s.bias[2], s.linkage / (1 + np.nan_to_num(e.linkage)), s.sensitivity / (1 + np.nan_to_num(e.sensitivity)))
    ] + [found.coil.inductance]


@pytest.mark.slow
def test_rods_of_any_form_are_the_bodies_that_they_are() -> None:
    """Two heights, two polarities: to the last digit what the same bodies give that are written one by one."""
    written = content(FORMED, TURNED, count=2)
    for key in ("row", "pole"):
        del written[key]
    made = {k: v for k, v in FORMED.items() if k != "polarity"}
    written["body"] = [{**made, "magnetised": way, "centre": ["0 mm", y], "top": top}
                       for way, y, top in (("up", "-5.2 mm", "1.5 mm"), ("down", "5.2 mm", "1.2 mm"))]
    one_by_one = read_case(written, materials=built_in_uses())
    row = case_of(FORMED, TURNED)
    assert [b.form for b in row.solid_bodies()] == [b.form for b in one_by_one.solid_bodies()]
    assert figures(row, "draft") == figures(one_by_one, "draft")
    faces = [p.field for p in solve(row, quality="draft").prediction(maps=False).poles]
    assert faces[0] > 0 > faces[1]


@pytest.mark.slow
def test_rods_of_any_form_are_those_of_the_row() -> None:
    formed, rod = (case_of(part, count=1) for part in (FORMED, ROD))
    assert figures(formed, "fine") == pytest.approx(figures(rod, "fine"), rel=SOLVERS)
    formed, rod = (case_of(part) for part in (FORMED, ROD))
    assert figures(formed, "normal") == pytest.approx(figures(rod, "normal", "solid"), rel=FORMS)


def test_what_is_turned_on_a_lathe_stays_in_the_row() -> None:
    assert choose(case_of(LATHE)).solver == "row"
    assert case_of(LATHE).placed_poles() == case_of(ROD).placed_poles()
    screw = {"shape": "screw", "material": "steel-1008", "head_diameter": "5 mm", "head_height": "2 mm",
             "diameter": "3 mm", "length": "14 mm"}
    case = case_of(screw)
    assert choose(case).solver == "row"
    assert [b.name for b in case.solid_bodies()][:2] == ["pole 1, part 1", "pole 1, part 1 below"]
    slotted = case_of({**screw, "drive": "slot", "drive_width": "0.8 mm", "drive_depth": "1 mm"})
    assert choose(slotted).solver == "solid"
    assert "2 poles not round (screw)" in words_beyond_a_row(slotted, "normal")
    assert words_beyond_a_row(case, "normal") == ""


@pytest.mark.parametrize(("count", "spacing"), [(1, "10.4 mm"), (6, "10.4 mm"), (12, "5.2 mm")])
def test_poles_stand_where_the_row_says(count: int, spacing: str) -> None:
    case = case_of(WEDGE, count=count, spacing=spacing)
    tops = [body.form.bounds[1][2] for body in case.solid_bodies()]
    assert tops == pytest.approx([p.face for p in case.placed_poles()], abs=1e-12)
    middles = [(body.form.bounds[0][1] + body.form.bounds[1][1]) / 2 for body in case.solid_bodies()]
    assert middles == pytest.approx(case.row.places(), abs=1e-12)


@pytest.mark.parametrize(("part", "words"), [
    ({**WEDGE, "across": "11 mm", "rotated": [{"about": "z", "by": "5 deg"}]}, "poles 1 and 2 are 10.4 mm apart"),
    ({**WEDGE, "along": "8 mm"}, "the winding cuts pole 1"),
    ({**WEDGE, "bottom": "1 mm"}, "bottom"),
    ({**WEDGE, "shape": "wegde"}, "wedge"),
])
def test_what_cannot_be_is_told(part: dict[str, Any], words: str) -> None:
    with pytest.raises(CaseError, match=words):
        case_of(part, coil={"inner_width": "7 mm", "inner_length": "24 mm", "outer_width": "14 mm", "turns": 6000,
                            "bottom": "-9 mm", "top": "-1 mm", "wire": "42 AWG"})


def test_a_turned_wedge_may_stand_closer() -> None:
    """Wide across it runs into its neighbour; turned by a right angle it does not."""
    wide = {**WEDGE, "along": "3 mm", "across": "6 mm"}
    with pytest.raises(CaseError, match="overlap"):
        case_of(wide, spacing="5 mm")
    coil = {"inner_width": "9 mm", "inner_length": "20 mm", "outer_width": "15 mm", "turns": 3000, "bottom": "-9 mm",
            "top": "-1 mm", "wire": "42 AWG"}
    turned = case_of({**wide, "rotated": [{"about": "z", "by": "90 deg"}]}, spacing="5 mm", coil=coil)
    assert not turned.is_plain_row
