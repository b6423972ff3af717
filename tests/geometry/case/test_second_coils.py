# ruff: noqa: E501  (a table of sentences reads best one to a line)
"""Further coils of a pickup: their places, names and connection, and the sentence for each fault."""

from __future__ import annotations

from typing import Any

import pytest

from rigs.cases.case_data import BUILD, DROP, FULL, USES, changed
from rigs.cases.strings_at_rest import faces_below, gaps, poles
from stringflux.geometry import Case, CaseError, read_case


def build(changes: dict[str, Any] | None = None) -> Case:
    return read_case(changed(changes or {}, BUILD), materials=USES)


def test_coils() -> None:
    case = build()
    assert case.coil_names() == ("first", "second", "third")
    assert [coil.turns for coil in case.coils()] == [4000, 4500, 1000]
    tracks = case.racetracks()
    assert [t.x_centre for t in tracks] == pytest.approx([-9e-3, 9e-3, -9e-3])  # the third stands under the first
    assert [t.sense for t in tracks] == [1, -1, 1]
    assert [t.turns for t in tracks] == [4000, 4500, 1000]
    assert tracks[0] == case.racetrack()
    assert (case.connection.coils, case.connection.reversed) == ("parallel", ("second", "third"))


def test_a_coil_stands_about_its_row_unless_it_says_otherwise() -> None:
    assert build({"coil.x": DROP}).racetrack().x_centre == pytest.approx(-9e-3)
    assert build({"coil.x": "-9.2 mm"}).racetrack().x_centre == pytest.approx(-9.2e-3)
    assert build({"second_coil.0.coil.x": "9.1 mm"}).racetracks()[1].x_centre == pytest.approx(9.1e-3)


def test_one_coil_is_called_coil() -> None:
    case = read_case(FULL, materials=USES)
    assert case.coil_names() == ("coil",)
    assert case.racetracks() == (case.racetrack(),)
    assert (case.connection.coils, case.connection.reversed) == ("series", ())


def test_poles_count_on_and_strings_belong_to_the_first_row() -> None:
    case = build()
    assert [(row.where, row.before) for row in case.rows()] == [("", 0), ("second_coil 1, ", 2)]
    assert [[p.y for p in row.placed()] for row in case.rows()] == [pytest.approx([-10e-3, 10e-3])] * 2
    assert len(case.placed_poles()) == 2
    assert poles(case) == [1, 2]
    assert faces_below(case) == pytest.approx([1e-3, 1e-3])


def test_a_string_out_of_reach_of_the_first_row_takes_the_other() -> None:
    far = {"row.count": 1, "row.spacing": DROP, "strings.spacing": "60 mm", "second_coil.0.row.positions": ["-30 mm", "30 mm"],
           "second_coil.0.coil.inner_length": "68 mm", "second_coil.1": DROP, "connection": DROP, "body": []}  # fmt: skip
    assert faces_below(build(far)) == pytest.approx([1e-3, 1.2e-3])


def test_of_two_half_rows_each_has_its_strings() -> None:
    """A split pair: the first string is over the first row, the second over the other, though both are in reach."""
    halves = {"row.count": DROP, "row.spacing": DROP, "row.positions": ["-16 mm", "-6 mm"], "row.face": "1 mm",
              "second_coil.0.row.positions": ["6 mm", "16 mm"], "second_coil.0.row.face": "1.5 mm", "strings.spacing": "20 mm",
              "coil.centre": "-11 mm", "second_coil.0.coil.centre": "11 mm", "second_coil.1": DROP, "connection": DROP, "body": []}  # fmt: skip
    case = build(halves)
    assert poles(case) == [2, 3]
    assert faces_below(case) == pytest.approx([1e-3, 1.5e-3])
    assert gaps(case) == pytest.approx([read_case(changed(halves, BUILD), materials=USES).strings.gap] * 2)


def test_a_second_coil_may_have_the_only_row() -> None:
    blade = {"shape": "box", "material": "steel-1008", "along": "3 mm", "across": "22 mm", "height": "12 mm", "top": "1 mm", "centre": ["-9 mm", "0 mm"]}
    case = build({"row": DROP, "pole": DROP, "body": [blade], "second_coil.1": DROP, "connection": DROP})
    assert poles(case) == [1, 2]
    assert faces_below(case) == pytest.approx([1e-3, 1.2e-3])
    assert case.racetracks()[0].x_centre == pytest.approx(-9e-3)
    assert case.history == "after"
    assert [b.name for b in case.solid_bodies()] == ["pole 1, part 1", "pole 2, part 1", "body 1"]


def test_history_is_that_of_the_rows() -> None:
    before = "before assembly"
    assert build({"row.charged": before, "second_coil.0.row.charged": before}).history == "before"


@pytest.mark.parametrize("coils", ["series", "parallel", "first", "third"])
def test_connections(coils: str) -> None:
    assert build({"connection": {"coils": coils}}).connection.coils == coils


FAULTS: list[tuple[str, dict[str, Any], str]] = [
    ("no name", {"second_coil.0.name": DROP}, "second_coil 1, name: it is missing; add it"),
    ("no coil", {"second_coil.0.coil": DROP}, "second_coil 1, coil: it is missing; add it"),
    ("no poles", {"second_coil.0.pole": DROP}, "second_coil 1, pole: it is missing; say how the poles of this row are made, or drop the row"),
    ("no row", {"second_coil.0.row": DROP}, "second_coil 1, row: it is missing; say where these poles stand, or drop pole"),
    ("name of its coil", {"second_coil.0.coil.name": "x"}, "second_coil 1, coil, name: received here; the name stands one level up, in [[second_coil]]"),
    ("fault in its coil", {"second_coil.0.coil.turns": -1}, "second_coil 1, coil, turns: received -1; write a number without a unit"),
    ("fault in its pole", {"second_coil.0.pole.0.part.0.length": "0 mm"}, 'second_coil 1, pole 1, part 1, length: received "0 mm"'),
    ("four second_coils", {"second_coil": [BUILD["second_coil"][1]] * 4}, "second_coil: received more than 3 items; write at most 3"),
    ("pole made twice", {"second_coil.0.pole.0.at": [1, 1]}, "second_coil 1, pole 1, at: received 1, as pole 1 does; keep it in one"),
    ("pole out of the row", {"second_coil.0.pole.0.at": [3]}, "second_coil 1, pole 1, at: received 3; the row has poles 1 to 2"),
    ("pole not made", {"second_coil.0.pole.1.at": [1]}, "second_coil 1, pole 2, at: received 1, as pole 1 does"),
    ("none for a pole", {"second_coil.0.pole": [BUILD["second_coil"][0]["pole"][0]]}, "second_coil 1, pole: none is for number 2"),
    ("two for the rest", {"second_coil.0.pole.0.at": DROP}, "second_coil 1, pole 2, at: it is missing, as in pole 1"),
    ("nothing for the rest", {"second_coil.0.pole.0.at": [1, 2]}, "second_coil 1, pole 2, at: it is missing, but the others already make all 2"),
    ("material of its pole", {"second_coil.0.pole.0.part.0.material": "alnco-5"}, "second_coil 1, pole 1, part 1, material: received"),
    ("no polarity", {"second_coil.0.pole.0.part.0.polarity": DROP}, 'second_coil 1, pole 1, part 1, polarity: it is missing, but "alnico-5" is a magnet'),
    ("history", {"second_coil.0.row.charged": "before assembly"}, 'second_coil 1, row, charged: received "before assembly", but the row before has "after assembly"; write the same'),
    ("poles in one another", {"second_coil.0.row.positions": ["-10 mm", "-9 mm"]}, "second_coil 1, row: poles 1 and 2 are 1 mm apart and overlap"),
    ("coil cuts its pole", {"second_coil.0.coil.inner_width": "4 mm"}, 'second_coil 1, coil: the winding cuts pole 3 ("alnico-5", diameter 4.8 mm) or leaves it outside'),
    ("coil of a row that stands aside", {"row.count": DROP, "row.spacing": DROP, "row.positions": ["-15 mm", "-5 mm"], "strings.spacing": "20 mm"}, "set centre to -10 mm, the middle of its row, enlarge"),
    ("coil beside its row", {"second_coil.0.coil.x": "10 mm"}, "second_coil 1, coil: the winding cuts pole 3"),
    ("name twice", {"second_coil.1.name": "second"}, 'second_coil 2, name: "second" is the name of second_coil 1 too; give each its own'),
    ("name of the first", {"second_coil.0.name": "first"}, 'second_coil 1, name: "first" is the name of coil too; give each its own'),
    ("name is a connection", {"second_coil.0.name": "series"}, 'second_coil 1, name: received "series", which is a way to connect coils; name it otherwise'),
    ("name of the first is a connection", {"coil.name": "parallel"}, 'coil, name: received "parallel", which is a way to connect'),
    ("windings in one another", {"second_coil.1.coil.top": "-9 mm"}, 'coil "third": its winding runs into that of coil "first"; move one of them by x, bottom or top'),
    ("coil round nothing", {"second_coil.1.coil.x": "30 mm"}, 'coil "third": a coil without a row; no pole and no magnetic body is inside it, so add a row of its own or a body, or move the coil'),
    ("coil under everything", {"second_coil.1.coil.bottom": "-24 mm", "second_coil.1.coil.top": "-21 mm"}, 'coil "third": a coil without a row'),
    ("string in its coil", {"second_coil.0.coil.top": "3.5 mm", "body": []}, 'string 1, gap: the string\'s underside at 3.5 mm runs into the coil "second", which reaches 3.5 mm'),
    ("string in its pole", {"second_coil.0.row.face": ["3.6 mm", "1 mm"], "second_coil.0.pole.0.part.0.length": "18.6 mm", "body": []}, "string 1, gap: the string's underside at 3.5 mm runs into pole 3, which reaches 3.6 mm"),
    ("connection", {"connection.coils": "paralel"}, 'connection, coils: received "paralel" (did you mean "parallel"?); write "series", "parallel" or the name of one coil: "first", "second", "third"'),
    ("reversed", {"connection.reversed": ["secnd"]}, 'connection, reversed 1: received "secnd", which is no coil (did you mean "second"?); the coils are "first", "second", "third"'),
    ("reversed as a text", {"connection.reversed": "second"}, 'connection, reversed: received "second"; write a list'),
    ("key of the connection", {"connection.coil": "series"}, 'connection: "coil" is not a key here (did you mean "coils"?)'),
    ("one coil in parallel", {"second_coil": [], "connection.reversed": DROP}, "connection: there is only one coil; drop this table, or add the other coil as [[second_coil]]"),
    ("one coil reversed", {"second_coil": [], "connection": {"reversed": ["first"]}}, "connection: there is only one coil; drop this table"),
    ("row place", {"row.x": "200 mm"}, 'row, x: received "200 mm"; write a length from -150 mm to 150 mm'),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "says"), [f[1:] for f in FAULTS], ids=[f[0] for f in FAULTS])
def test_sentence(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(CaseError) as caught:
        build(changes)
    message = str(caught.value)
    assert says in message
    assert "\n" not in message
    assert len(message) < 500
