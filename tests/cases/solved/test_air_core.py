"""An air coil beside a pickup, a dummy against hum: what it takes away, what it adds, and when it is none."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.cli import main
from stringflux.cases.files.load import shipped_cases
from stringflux.geometry.errors import CaseError

SAME = {"inner_width": "6 mm", "outer_width": "14 mm", "turns": 5000, "wire": "42 AWG"}  # as the coil of the case
FAR = {**SAME, "core": "air", "bottom": "-71 mm", "top": "-60 mm"}


def with_dummy(coil: dict[str, Any]) -> dict[str, Any]:
    return {"second_coil": [{"name": "dummy", "coil": coil}], "connection": {"reversed": ["dummy"]}}


def test_a_far_one_takes_the_hum_of_the_turns_and_leaves_the_string() -> None:
    """The same turns the other way, 60 mm down: the pickup, by the 3-D solver, hears its string as the row does, and
    of a uniform field only what its magnet draws into its coil."""
    alone, both = (solve(load_case("bench-single", changes)) for changes in ({}, with_dummy(FAR)))
    assert both.solver == "solid"
    first, second = (p.prediction(maps=False).strings[0].sensitivity for p in (alone, both))
    assert second == pytest.approx(first, rel=5e-4)
    area, of_row = both.hum().area, alone.hum().area
    assert area.turns == pytest.approx([0, 0, 0], abs=1e-12 * of_row.turns[2])
    assert area.poles[2] == pytest.approx(of_row.poles[2], rel=2e-3)  # the 3-D mesh at normal; found 6e-4
    coil, dummy = both.prediction(maps=False).coils
    assert dummy.inductance == pytest.approx(coil.inductance_air, rel=1e-5)  # as an air coil of that size


@pytest.mark.parametrize(("coil", "words"), [
    ({**FAR, "bottom": "-20 mm", "top": "-13 mm"},
     'coil "dummy", core: received "air", and pole 1 part 1 is inside the coil'),
    ({**FAR, "core": "iron"}, 'core: received "iron"; write "air"'),
    ({key: value for key, value in FAR.items() if key != "core"}, 'a dummy coil against hum, says core = "air"'),
])
def test_one_that_is_none(coil: dict[str, Any], words: str) -> None:
    with pytest.raises(CaseError) as refused:
        load_case("bench-single", with_dummy(coil))
    assert words in str(refused.value)


def test_the_coil_of_a_row_is_none() -> None:
    with pytest.raises(CaseError, match=r'coil, core: received "air", and pole 1 part 1 is .*; leave core out'):
        load_case("bench-single", {"coil.core": "air"})


def test_check_case_says_it(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    case = shipped_cases()["bench-single"].read_text(encoding="utf-8")
    keys = "\n".join(f"{key} = {json.dumps(value)}" for key, value in FAR.items())
    path = tmp_path / "dummy.toml"
    path.write_text(f'{case}\n[[second_coil]]\nname = "dummy"\n[second_coil.coil]\n{keys}\n', encoding="utf-8")
    assert main(["check-case", str(path), "--out", str(tmp_path)]) == 0
    assert "round air." in " ".join(capsys.readouterr().out.split())
