"""Fields of a case by their path: where they are found, what they take, and the sentences for what is wrong."""

from __future__ import annotations

import copy
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from stringflux.cases.files.load import built_in_uses, find_case, load_case, read_toml, shipped_cases
from stringflux.cases.studies.compare.fields import CaseField, find_field
from stringflux.cases.studies.compare.paths import IDLE, all_paths
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.changes import change_value
from stringflux.geometry.reading.read import read_case

FULL = str(Path(__file__).parents[3] / "full_case.toml")
BUILD = str(Path(__file__).parents[3] / "full_build.toml")


@cache
def loaded(name: str) -> tuple[dict[str, Any], Case]:
    return read_toml(find_case(name)), load_case(name)


def field(name: str, path: str) -> CaseField:
    return find_field(path, *loaded(name))


def places(name: str, path: str) -> list[str]:
    return [".".join(place.steps) for place in field(name, path).places]


@pytest.mark.parametrize(
    ("name", "path", "found"),
    [
        ("baritone-six", "coil.turns", "coil.turns"),
        ("baritone-six", "string.2.gap", "string.2.gap"),
        ("baritone-six", "string.gap", " ".join(f"string.{n}.gap" for n in range(1, 7))),
        ("baritone-six", "string.wrap", " ".join(f"string.{n}.wrap" for n in range(1, 5))),  # the wound ones
        ("baritone-six", "pole.part.tip.depth", "pole.1.part.1.tip.depth"),
        ("bass-four", "pole.part.charge", "pole.1.part.2.charge"),  # the discs, not the slugs
        (FULL, "pole.part.material", "pole.1.part.1.material pole.1.part.2.material pole.2.part.1.material"),
        (FULL, "pole.1.part.material", "pole.1.part.1.material pole.1.part.2.material"),
        (FULL, "pole.part.tip.rise", "pole.1.part.1.tip.rise"),
        (FULL, "row.face.3", "row.face.3"),
        (FULL, "coil.taps.1", "coil.taps.1"),
        (FULL, "materials.own-line.remanence", "materials.own-line.remanence"),
        (BUILD, "second_coil.1.coil.turns", "second_coil.1.coil.turns"),
        (BUILD, "second_coil.coil.turns", "second_coil.1.coil.turns second_coil.2.coil.turns"),
        (BUILD, "second_coil.1.row.face.2", "second_coil.1.row.face.2"),
        (BUILD, "body.2.diameter", "body.2.diameter"),  # the keys of a cylinder
        (BUILD, "body.along", "body.1.along body.3.along body.4.along"),  # of boxes and the cover
        (BUILD, "body.charge", "body.1.charge body.2.charge"),  # the magnets
        (BUILD, "body.3.centre", "body.3.centre"),
        (BUILD, "row.x", "row.x"),
        ("bench-single", "load.cable_length", "load.cable_length"),  # a table that the file leaves out
    ],
)
def test_where_a_field_stands(name: str, path: str, found: str) -> None:
    assert places(name, path) == found.split()


@pytest.mark.parametrize(
    ("path", "content", "unit", "si"),
    [
        ("strings.gap", "2.5 mm", "m", 2.5e-3),
        ("strings.gap", "1/8 in", "m", 3.175e-3),
        ("string.1.pitch", "A2", "Hz", 110.0),
        ("coil.turns", 6000, "", 6000.0),
        ("load.cable_capacitance", "100 pF/m", "F/m", 1e-10),
        ("row.face", "2 mm", "m", 2e-3),
        ("row.face.2", "2 mm", "m", 2e-3),
        ("row.face", ["1 mm", "2 mm"], "m", "1 mm, 2 mm"),
        ("pole.part.material", "alnico-3", "", "alnico-3"),
        ("pole.part.tip", {"shape": "domed", "rise": "0.5 mm"}, "", "domed rise 0.5 mm"),
    ],
)
def test_values_in_si(path: str, content: Any, unit: str, si: float | str) -> None:
    found = field("baritone-six", path)
    assert found.unit == unit
    assert found.read(content) == (pytest.approx(si, rel=1e-12) if isinstance(si, float) else si)


def test_every_key_of_the_model_has_a_field(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the full case gives can be read by its path, and put back changes nothing."""
    # thousands of paths are not in it, and what each is nearly is asked of a few below
    monkeypatch.setattr("stringflux.cases.studies.compare.fields.near_paths", lambda path, case: "")
    document, case = loaded(FULL)
    seen = 0
    for path in all_paths(Case, ""):
        if path.startswith(IDLE):
            continue
        try:
            found = find_field(path, document, case)
        except CaseError as error:
            # no tip of that kind, no second way of giving a place, or every string has its own
            assert any(word in str(error) for word in ("kind", "its own", "no field")), error  # noqa: PT017
            continue
        for place in found.places:
            node: Any = document
            for step in place.steps:
                node = node[int(step) - 1] if isinstance(node, list) else node.get(step)
                if node is None:
                    break
            if node is None:
                continue
            seen += 1
            changed = copy.deepcopy(document)
            CaseField(path=path, places=(place,), form=found.form, kind=found.kind, poles=3).put(changed, node)
            assert changed == document
    assert seen > 60


@pytest.mark.parametrize("name", shipped_cases())
def test_a_changed_field_is_the_same_as_set(name: str) -> None:
    document, case = loaded(name)
    for path, content in (("coil.turns", 3000), ("string.1.gap", "3.1 mm"), ("load.cable_length", "7 m")):
        mine, theirs = copy.deepcopy(document), copy.deepcopy(document)
        find_field(path, document, case).put(mine, content)
        change_value(theirs, path, content)
        assert mine == theirs
        assert read_case(mine, materials=built_in_uses()) != case


def test_one_height_of_a_row_that_has_one_for_all() -> None:
    document, case = loaded("bass-four")
    changed = {**copy.deepcopy(document)}
    changed["row"]["face"] = "1 mm"
    find_field("row.face.3", changed, case).put(changed, "2 mm")
    assert read_case(changed, materials=built_in_uses()).row.faces() == (1e-3, 1e-3, 2e-3, 1e-3)


def test_what_is_put_is_the_designs_own() -> None:
    document, case = copy.deepcopy(loaded("bench-single"))
    tip = {"shape": "domed", "rise": "0.5 mm"}
    find_field("pole.part.tip", document, case).put(document, tip)
    document["pole"][0]["part"][0]["tip"]["rise"] = "1 mm"
    assert tip["rise"] == "0.5 mm"


@pytest.mark.parametrize(
    ("name", "path", "words"),
    [
        ("baritone-six", "coil.turn", "did you mean coil.turns"),
        ("baritone-six", "strings.gaap", "did you mean strings.gap"),
        ("baritone-six", "gap", "string.gap or strings.gap"),
        ("baritone-six", "material", "did you mean pole.part.material?"),
        ("baritone-six", "pole.1.material", "did you mean pole.part.material"),
        ("baritone-six", "x.y.z", "write its path in the file, such as coil.turns"),
        ("baritone-six", "", "is no field of this case"),
        ("baritone-six", "coil.turns.1", "is no field of this case"),
        ("baritone-six", "string.9.gap", "string has the numbers 1 to 6 in this case"),
        ("baritone-six", "string.0.gap", "1 to 6"),
        ("baritone-six", "row.face.7", "face has the numbers 1 to 6"),
        ("bench-single", "string.2.gap", "only one string"),
        ("bench-single", "coil.taps.1", "no taps"),
        ("bench-single", "string.wrap", "no string is wound"),
        ("bench-single", "strings.wrap", "no string of this case is wound, so it would change nothing"),
        ("baritone-six", "coil", "it is a table; add one of its keys: inner_width"),
        ("baritone-six", "string.1", "it is a table; add one of its keys: gap"),
        ("baritone-six", "pole", "it is a list of tables; add one of their keys: at, part"),
        ("baritone-six", "title", "so it would change nothing"),
        ("bench-single", "pole.part.tip.rise", "this tip is of another kind and has the keys shape"),
        (FULL, "materials.own-lin.remanence", "materials.own-line.remanence"),
        (FULL, "strings.wrap", "every string has its own wrap, so it would change nothing; write string.wrap"),
    ],
)
def test_paths_that_are_none(name: str, path: str, words: str) -> None:
    with pytest.raises(CaseError) as refused:
        field(name, path)
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("path", "content", "words"),
    [
        ("strings.gap", "2 kg", 'strings.gap: received "2 kg", which is not a length'),
        ("strings.gap", 2, "strings.gap: received the bare number 2; write a length with its unit"),
        ("strings.gap", "2", "has no unit"),
        ("strings.gap", "50 mm", "write a length from 0.2 mm to 15 mm"),
        ("row.face.2", "x", 'row.face.2: received "x"'),
        ("row.face", ["2 mm", "x"], 'row.face, 2: received "x"'),
        ("coil.turns", "many", "coil.turns: received"),
        ("coil.winding", "left", 'write "counter-clockwise (from above)"'),
        ("pole.part.material", "alnico5", '(did you mean "alnico-5"'),
        ("strings.steel", "string-stel", '"string-steel"'),
        ("string.1.pitch", "H2", 'such as "E2"'),
        ("pole.part.tip", {"shape": "dome"}, 'did you mean "domed"?'),
        ("pole.part.tip", {"shape": "domed"}, "pole.part.tip, rise: it is missing"),
        ("pole.part.tip", "round", "write a table"),
    ],
)
def test_values_that_do_not_fit(path: str, content: Any, words: str) -> None:
    with pytest.raises(CaseError) as refused:
        field("baritone-six", path).read(content)
    assert words in str(refused.value)
    assert str(refused.value).startswith(path)


def test_a_common_value_that_some_strings_do_not_take() -> None:
    """The gap of [strings] counts for those strings alone that have none of their own; for none it is refused."""
    assert field("baritone-six", "strings.gap").note.startswith("strings.gap counts for string 5, 6 alone")
    assert field("bench-single", "strings.gap").note == ""
    document, _ = copy.deepcopy(loaded("baritone-six"))
    for string in document["string"]:
        string.setdefault("gap", "2.5 mm")
    with pytest.raises(CaseError, match=r"every string has its own gap.* write string\.gap for all of them"):
        find_field("strings.gap", document, read_case(document, materials=built_in_uses()))
    for string in document["string"]:
        string["height"] = string.pop("gap")
    with pytest.raises(CaseError, match="so it would change nothing"):
        find_field("strings.gap", document, read_case(document, materials=built_in_uses()))
