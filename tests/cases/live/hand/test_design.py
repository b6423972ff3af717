"""What a hand does to a person's own text."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from rigs.live import EVERY, SHIPPED, remarks, scene_of
from stringflux.cases.live.hand.design import Edit, edited, read_design
from stringflux.geometry.errors import CaseError

BENCH = next(f for f in SHIPPED if f.stem == "bench-single").read_text(encoding="utf-8")
WRONG = ("3 kg", "7 furlongs of", "", " ", "1e999 mm", "nan mm", "-inf", "-", '"', "3 mm; 4", "[", "{a=1", "\x00")


def refused(text: str, *edits: Edit) -> str:
    with pytest.raises(CaseError) as caught:
        edited(text, edits)
    said = str(caught.value)
    assert "\n" not in said
    return said


@pytest.mark.parametrize("file", EVERY, ids=lambda f: f.stem)
def test_wrong_values(file: Path) -> None:
    """A quantity typed wrong is a sentence that names its place."""
    text = file.read_text(encoding="utf-8")
    for table in scene_of(text)["tables"]:
        for number, key in enumerate(k for k in table["keys"] if k["kind"] != "text"):
            path = f"{table['path']}.{key['key']}".removeprefix(".")
            said = refused(text, Edit(path=path, value=WRONG[number % len(WRONG)]))
            assert len(said) < 400


@pytest.mark.parametrize("wrong", WRONG)
def test_wrong_length(wrong: str) -> None:
    assert "received" in refused(BENCH, Edit(path="strings.gap", value=wrong))


@pytest.mark.parametrize("file", EVERY, ids=lambda f: f.stem)
def test_own_words(file: Path) -> None:
    """What the file itself writes, typed again, changes nothing; a key taken out takes its own remark along."""
    text = file.read_text(encoding="utf-8")
    lines = text.splitlines()
    for table in scene_of(text)["tables"]:
        for key in table["keys"]:
            path = f"{table['path']}.{key['key']}".removeprefix(".")
            if not key["written"]:
                continue
            assert tomllib.loads(edited(text, [Edit(path=path, value=key["written"])])) == tomllib.loads(text)
            try:
                made = edited(text, [Edit(act="unset", path=path)])
            except CaseError:
                continue
            kept, inline = iter(lines), f"{path.rpartition('.')[0].rpartition('.')[2]} = {{"  # a table in one line
            stays = [line for line in made.splitlines() if not line.startswith(inline)]
            assert all(line in kept for line in stays), path  # what stays, stays in its order


@pytest.mark.parametrize("typed", ["3/16 in", "2.4 mm", "0.1 in"])
def test_as_a_person_types(typed: str) -> None:
    made = edited(BENCH, [Edit(path="strings.gap", value=typed)])
    assert f'gap = "{typed}"                ' in made
    assert remarks(made) == remarks(BENCH)


def test_one_of_several() -> None:
    """One face of a row becomes a list of as many as there are poles."""
    text = next(f for f in SHIPPED if f.stem == "baritone-six").read_text(encoding="utf-8")
    before = read_design(text).row.faces()
    after = read_design(edited(text, [Edit(path="row.face.6", value="9/16 in")])).row.faces()
    assert after[:5] == before[:5]
    assert after[5] == pytest.approx(9 / 16 * 25.4e-3)
    assert "count from 1" in refused(text, Edit(path="row.face.9", value="1 mm"))


def test_all_or_nothing() -> None:
    """Of several edits either all are done or none: the text that comes back is the only one that changes."""
    assert "kg" in refused(BENCH, Edit(path="strings.gap", value="2 mm"), Edit(path="coil.turns", value="3 kg"))


def test_table_that_is_not_there() -> None:
    """A value in a table without a head of its own does not cost the remarks."""
    made = edited(BENCH, [Edit(path="load.cable_length", value="3 m")])
    assert made.startswith(BENCH.rstrip("\n"))
    assert made.endswith('\n\n[load]\ncable_length = "3 m"\n')
    domed = edited(BENCH, [Edit(path="pole.1.part.1.tip", value='{ shape = "domed", rise = "0.4 mm" }'),
                           Edit(path="pole.1.part.1.tip.rise", value="0.5 mm")])
    assert 'tip = { shape = "domed", rise = "0.5 mm" }' in domed
    assert remarks(domed) == remarks(BENCH)


def test_several_lines() -> None:
    """A list over several lines, or a text in single quotes, is replaced where it stands."""
    text = BENCH.replace('gap = "2.5 mm" ', "gap = '2.5 mm' ")
    made = edited(text, [Edit(path="strings.gap", value="2 mm")])
    assert 'gap = "2 mm"' in made
    assert remarks(made) == [r for r in remarks(text) if "underside" not in r]


@pytest.mark.parametrize("path", ["", "a..b", "../x", "a.b.c.d.e.f.g.h", "row.face.1\n", "a b"])
def test_no_place(path: str) -> None:
    with pytest.raises(CaseError, match="no place"):
        Edit(path=path, value=1)


@pytest.mark.parametrize("path", ["nothing.gap", "strings.nothing", "body.1.bottom", "string.7.gauge", "row.face.1.2",
                                  "title.1", "pole.1.part.9.length", "materials.own.kind"])
@pytest.mark.parametrize("act", ["set", "copy", "remove"])
def test_no_such_thing(path: str, act: str) -> None:
    refused(BENCH, Edit(act=act, path=path, value="1 mm"))  # type: ignore[arg-type]


def test_larger_than_any_case() -> None:
    with pytest.raises(CaseError, match="200 kB"):
        read_design("#" * 200_001)


def test_fault_names_its_line() -> None:
    with pytest.raises(CaseError, match=r"\(line 15\)"):
        read_design(BENCH.replace('length = "17 mm"', 'length = "17 kg"'))
