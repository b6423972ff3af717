"""The balance of cases: what moves in the file, a fresh prediction of what was promised, and the command."""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rigs.cases.balance_formula import MM, written
from rigs.cases.envelope import document_of
from rigs.cases.strings_at_rest import undersides
from stringflux.cases import load_case, predict
from stringflux.cases.cli import main
from stringflux.cases.files.changed import toml_text, with_changes
from stringflux.cases.files.load import find_case, read_toml
from stringflux.cases.jobs.plucked import vibration_of
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.solve import solved_case
from stringflux.cases.studies.balance.problem import BalanceRequest, balance_problem
from stringflux.cases.studies.balance.result import Balanced
from stringflux.cases.studies.balance.search import PROMISE
from stringflux.cases.studies.balance.setting import changed_content, moved_case
from stringflux.cases.studies.balance.study import balance_case
from stringflux.cases.studies.balance.words import sentences
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.moved import setting_changes
from stringflux.postprocess.string.heard import heard_pull
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.pull import detuning

pytestmark = pytest.mark.slow

PROMISED = 0.1  # dB between a setting's promise and a fresh prediction, as asked for


@pytest.fixture(scope="module")
def six() -> dict[str, Any]:
    """Six strings over six poles, all by a common gap of 2.5 mm."""
    data = read_toml(find_case("baritone-six"))
    for string in data["string"]:
        string.pop("gap", None)
    return data


def test_strings_stay_where_they_are_when_poles_move(six: dict[str, Any]) -> None:
    """By gap, by height and by the gap fretted: a pole moves, the underside does not."""
    mixed = copy.deepcopy(six)
    mixed["strings"] |= {"last_fret": 21, "action": "1.8 mm"}
    mixed["string"][1]["height"] = "4.1 mm"
    mixed["string"][2]["fretted_gap"] = "1.9 mm"
    mixed["string"][3]["gap"] = "2.35 mm"
    case = written(mixed)
    faces = [f + d * MM for f, d in zip(case.row.faces(), (0.3, -0.4, 0.5, 0.0, -1.2, 0.05), strict=True)]
    moved = moved_case(mixed, case, faces, undersides(case))
    assert moved.row.faces() == pytest.approx(faces, abs=1e-9)
    assert undersides(moved) == pytest.approx(undersides(case), abs=1e-9)
    changes = setting_changes(case, faces, undersides(case))
    assert set(changes) == {"row.face", "string.1.gap", "string.3.fretted_gap", "string.5.gap", "string.6.gap"}
    lows = [low + 0.1 * MM for low in undersides(case)]
    raised = moved_case(mixed, case, faces, lows)
    assert undersides(raised) == pytest.approx(lows, abs=1e-9)
    assert setting_changes(case, case.row.faces(), undersides(case)) == {}


def test_a_list_of_faces_is_changed_in_place() -> None:
    """The one line with the faces is rewritten, every remark of the file stays."""
    path, case = find_case("lap-steel-eight"), load_case("lap-steel-eight")
    data, text = read_toml(path), path.read_text(encoding="utf-8")
    changes = setting_changes(case, [f + 0.2 * MM for f in case.row.faces()], undersides(case))
    made = with_changes(text, changed_content(data, changes), changes)
    before, after = text.splitlines(), made.splitlines()
    assert len(before) == len(after)
    assert [a for a, b in zip(after, before, strict=True) if a != b] == [
        'face = ["1.4 mm", "1.8 mm", "2.2 mm", "2.2 mm", "2 mm", "1.4 mm", "1 mm", "1 mm"]']


def test_arc_of_the_fingerboard_survives_a_tilt() -> None:
    data, case = read_toml(find_case("bass-four")), load_case("bass-four")
    lows = [low + d * MM for low, d in zip(undersides(case), (0.3, 0.2, 0.1, 0.0), strict=True)]
    assert undersides(moved_case(data, case, case.row.faces(), lows)) == pytest.approx(lows, abs=1e-9)


def test_bodies_limit_the_movement() -> None:
    """The bass's discs lie under the winding: a pole may rise until its disc meets it, and the case agrees."""
    data, case = read_toml(find_case("bass-four")), load_case("bass-four")
    problem = balance_problem(case, BalanceRequest(by="poles", travel=9 * MM))
    winding = [k for k in problem.limits if "winding" in k.words and k.row[0] > 0]
    assert len(winding) == 1
    room = winding[0].most
    up = [case.row.faces()[0] + room, *case.row.faces()[1:]]
    high = [low + 9 * MM for low in undersides(case)]
    moved_case(data, case, up, high)
    with pytest.raises(CaseError, match="winding"):
        moved_case(data, case, [up[0] + 0.01 * MM, *up[1:]], high)


@pytest.fixture(scope="module")
def three(six: dict[str, Any]) -> dict[str, Any]:
    """Every other string over three poles, of which the solver needs one cell: quick."""
    data = copy.deepcopy(six)
    data["row"] |= {"count": 3, "face": "1.5 mm"}
    data["coil"]["inner_length"] = "30 mm"
    data["string"] = data["string"][1::2]
    return data


@pytest.fixture(scope="module")
def balanced_three(three: dict[str, Any]) -> tuple[Case, Balanced]:
    case = written(three)
    request = BalanceRequest(by="both", pull=1.5, measure="sensitivity")
    return case, balance_case(three, case, request, quality="draft")


def test_fresh_prediction_keeps_the_promise(three: dict[str, Any], balanced_three: tuple[Case, Balanced]) -> None:
    case, found = balanced_three
    after = written(changed_content(three, found.changes))
    for which, measured in ((case, found.before), (after, found.after)):
        fresh = predict(which, quality="draft", maps=False).strings
        level = 20 * np.log10([s.sensitivity for s in fresh])
        assert level - np.mean(level) == pytest.approx(measured.level - np.mean(measured.level), abs=PROMISED)
    assert np.max(np.abs(found.off_after)) < 0.25 * np.max(np.abs(found.off_before))
    assert found.after.pull is not None
    materials = case_materials(after)
    row = solved_case(after, "draft").solution()
    for i, string in enumerate(placed_strings(after)):
        pull = heard_pull(row.field, string.shape, layers_of(string.shape, materials))
        cents = detuning(pull, vibration_of(string, after.strings.bridge_distance or 0.0))
        # the same to a few parts in a thousand: the fields are tabulated over other heights
        assert max(abs(cents.cents_y), abs(cents.cents_z)) == pytest.approx(found.after.pull[i], rel=0.01)
    assert np.max(found.after.pull) <= 1.5 * 1.01


def test_words(balanced_three: tuple[Case, Balanced]) -> None:
    _, found = balanced_three
    assert sentences(found)[0].startswith("Strings were up to")


def test_output_as_the_measure(three: dict[str, Any]) -> None:
    two = {**three, "string": three["string"][:2]}
    found = balance_case(two, written(two), BalanceRequest(by="tilt", measure="output"), quality="draft")
    assert np.max(np.abs(found.off_after)) < np.max(np.abs(found.off_before))
    assert found.misses[-1] < PROMISE
    assert found.before.level[0] < 0  # millivolts, in dB over a volt


def test_command_writes_the_new_case(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out, mine = tmp_path / "done", tmp_path / "mine.toml"
    mine.write_text(find_case("bass-four").read_text(encoding="utf-8") + "\n# my own remark\n", encoding="utf-8")
    call = ["balance", str(mine), "--by", "tilt", "--quality", "draft", "--set", "coil.turns=8000", "--out", str(out)]
    assert main([*call, "--json"]) == 0
    read = document_of(capsys.readouterr().out, "balance")
    told = read["result"]
    assert sorted(p.name for p in out.iterdir()) == read["files"]
    text = (out / "balanced.toml").read_text(encoding="utf-8")
    assert "# my own remark" in text
    assert "# then the disc under it" in text
    made = load_case(out / "balanced.toml")
    assert made.coil.turns == 8000
    gaps = np.array(undersides(made)) - np.array(made.row.faces())
    assert gaps == pytest.approx([s["gap_after"] for s in told["strings"]], abs=1e-6)
    assert tomllib.loads(text) != read_toml(mine)
    readings = [s["reading"] for s in told["setting"]]
    assert readings == pytest.approx(gaps[[0, -1]], abs=1e-6)
    other = tmp_path / "other"
    other.mkdir()
    (other / "mine.txt").write_text("kept")
    assert main([*call[:-1], str(other)]) == 2
    assert (other / "mine.txt").read_text() == "kept"


def test_command_prints_setting_and_strings(three: dict[str, Any], tmp_path: Path,
                                            capsys: pytest.CaptureFixture[str]) -> None:
    mine = tmp_path / "three.toml"
    mine.write_text(toml_text(three), encoding="utf-8")
    assert main(["balance", str(mine), "--by", "tilt", "--quality", "draft", "--profile", "0:1"]) == 0
    told = capsys.readouterr().out
    for word in ("Looked for within", "Strings were up to", "Bass side", "Treble side", "0.1 mm", "Wanted"):
        assert word in told


@pytest.mark.parametrize(("options", "words"), [
    (["--by", "magic"], "--by"),
    (["--measure", "loudness"], "--measure"),
    (["--profile", "0,1"], "2 levels for 4 strings"),
    (["--profile", "0,1,x,2"], "write levels in dB"),
    (["--profile", "0,0,0,99"], "from -20 to 20"),
    (["--travel", "1 kg"], "--travel"),
    (["--travel", "40mm"], "10 mm"),
    (["--gap", "0.2mm"], "0.6 mm"),
    (["--pull", "0"], "cents"),
    (["--by", "tilt", "--travel", "1mm"], "--side-travel"),
    (["--by", "poles", "--side-travel", "1mm"], "--travel"),
    (["--quality", "superb"], "--quality"),
])
def test_bad_input_is_one_sentence(options: list[str], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["balance", "bass-four", *options]) == 2
    err = capsys.readouterr().err
    assert words in err
    assert err.count("\n") == 1


def test_pull_needs_the_bridge(six: dict[str, Any]) -> None:
    bare = copy.deepcopy(six)
    bare["strings"].pop("bridge_distance")
    with pytest.raises(CaseError, match="bridge_distance"):
        balance_case(bare, written(bare), BalanceRequest(pull=1.0), quality="draft")
