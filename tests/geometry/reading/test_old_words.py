"""Keys of before: read, told once each, and never mixed up with those of today."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from stringflux.cases.files.changed import with_changes
from stringflux.cases.files.load import find_case, load_case, read_toml
from stringflux.cases.live.hand.design import Edit, edited, read_design
from stringflux.cases.studies.compare.fields import find_field
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.old_words import OldWordWarning, text_in_new_words

BEFORE = {"second_coil": "partner", "winding =": "sense =", " (from above)": "",
          'charged = "': 'history = "charged '}


@pytest.fixture(params=["side-by-side-six", "bass-four", "baritone-six", "stacked-six"])
def case(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[str, Path]:
    """A shipped case, and its file in the words of before."""
    text = find_case(request.param).read_text(encoding="utf-8")
    for new, old in BEFORE.items():
        text = text.replace(new, old)
    path = tmp_path / f"{request.param}.toml"
    path.write_text(text, encoding="utf-8")
    return request.param, path


def test_an_old_file_is_the_same_case(case: tuple[str, Path]) -> None:
    name, path = case
    with pytest.warns(OldWordWarning, match=f'{name}.toml: "[a-z]+" is now called'):
        assert load_case(path) == load_case(name)
    assert read_design(text_in_new_words(path.read_text(encoding="utf-8"))) == load_case(name)


def test_each_word_is_told_once(case: tuple[str, Path]) -> None:
    with pytest.warns(OldWordWarning) as told:
        load_case(case[1])
    said, text = [str(one.message) for one in told], case[1].read_text(encoding="utf-8")
    there = [word for word, mark in (("partner", "[[partner]]"), ("sense", "\nsense ="), ("history", "\nhistory ="))
             if mark in text]
    assert len(said) == len(set(said)) == len(there) > 0


def test_paths_of_before_change_the_same() -> None:
    old = load_case("side-by-side-six", {"partner.1.coil.sense": "counter-clockwise"})
    assert old == load_case("side-by-side-six", {"second_coil.1.coil.winding": "counter-clockwise (from above)"})
    assert load_case("baritone-six", {"row.history": "charged before assembly"}).history == "before"
    path, whole = find_case("side-by-side-six"), load_case("side-by-side-six")
    assert find_field("partner.1.coil.turns", read_toml(path), whole).path == "second_coil.1.coil.turns"


def test_a_text_keeps_its_remarks() -> None:
    text = '[coil]\nsense = "clockwise"  # as on the old machine\nturns = 5\n'
    wanted = {"coil": {"winding": "clockwise", "turns": 6}}
    assert with_changes(text, wanted, {"coil.turns": 6}) == (
        '[coil]\nwinding = "clockwise"  # as on the old machine\nturns = 6\n')


def test_the_page_takes_an_old_text(case: tuple[str, Path]) -> None:
    text = edited(case[1].read_text(encoding="utf-8"), [Edit(act="set", path="coil.turns", value="4321")])
    assert read_design(text) == load_case(case[0], {"coil.turns": 4321})
    assert text.count("#") == case[1].read_text(encoding="utf-8").count("#")


def test_both_words_are_a_fault(tmp_path: Path) -> None:
    text = find_case("baritone-six").read_text(encoding="utf-8").replace("[coil]", '[coil]\nsense = "clockwise"')
    (tmp_path / "both.toml").write_text(text, encoding="utf-8")
    with pytest.raises(CaseError, match='"sense" is not a key here'):
        load_case(tmp_path / "both.toml")


def test_a_fault_in_an_old_file_has_its_line(tmp_path: Path) -> None:
    text = find_case("baritone-six").read_text(encoding="utf-8")
    text = text.replace('winding = "counter-clockwise (from above)"', 'sense = "left"')
    (tmp_path / "left.toml").write_text(text, encoding="utf-8")
    line = text.split("\n").index('sense = "left"') + 1
    with pytest.warns(OldWordWarning), pytest.raises(CaseError, match=f"line {line}: coil, winding: "):
        load_case(tmp_path / "left.toml")


def test_the_command_line_notes_it(tmp_path: Path) -> None:
    text = find_case("bench-single").read_text(encoding="utf-8").replace("[coil]", '[coil]\nsense = "clockwise"')
    (tmp_path / "old.toml").write_text(text, encoding="utf-8")
    done = subprocess.run([sys.executable, "-m", "stringflux", "hum", "old.toml", "--quality", "draft"], cwd=tmp_path,
                          capture_output=True, text=True, check=True)
    assert done.stderr.count('Note: old.toml: "sense" is now called "winding"; the next version') == 1
