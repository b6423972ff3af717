"""N or S up, from the case alone: against what is written, against the solved field, and turned round."""

from __future__ import annotations

import pytest

from rigs.source_tree import CLOSE_BASS
from stringflux.cases import load_case, solve
from stringflux.geometry.case.phase import ends_in_coils, pairs
from stringflux.geometry.case.upper_ends import upper_ends

LETTERS = {"baritone-six": "N" * 6, "bass-four": "NNNN", CLOSE_BASS: "NNSS", "bench-single": "N",
           "lap-steel-eight": "S" * 8,
           "bar-screws-six": "N" * 6, "side-by-side-six": "N" * 6 + "S" * 6, "stacked-six": "N" * 6}


@pytest.mark.parametrize("name", LETTERS)
def test_poles_of_shipped_cases(name: str) -> None:
    assert "".join(e.letter for e in upper_ends(load_case(name)) if e.pole) == LETTERS[name]


@pytest.mark.slow
@pytest.mark.usefixtures("shared_solutions")
@pytest.mark.parametrize("name", [CLOSE_BASS, "side-by-side-six"])
def test_the_solved_field_has_the_same_signs(name: str) -> None:
    case = load_case(name)
    poles = solve(case, quality="draft").prediction(maps=False).poles
    assert ["N" if p.field > 0 else "S" for p in poles] == list(LETTERS[name])


def test_a_turned_magnet_turns_the_steel_at_its_ends() -> None:
    turned = load_case("side-by-side-six", {"body.1.magnetised": "to -x"})
    assert "".join(e.letter for e in upper_ends(turned) if e.pole) == "S" * 6 + "N" * 6
    blade = load_case("blade-six")
    assert {e.name: e.letter for e in upper_ends(blade)}["blade"] == "N"


def test_without_a_charge_no_end_has_a_name() -> None:
    dead = load_case("bench-single", {"pole.1.part.1.charge": 0})
    assert [e.letter for e in upper_ends(dead)] == ["–"]


@pytest.mark.parametrize(("name", "changes", "in_phase", "cancels", "shared"), [
    ("side-by-side-six", {}, True, True, False),
    ("side-by-side-six", {"connection.reversed": ["slugs"]}, False, False, False),
    ("side-by-side-six", {"second_coil.1.coil.winding": "counter-clockwise"}, False, False, False),
    ("stacked-six", {}, False, True, True),
    ("stacked-six", {"connection.reversed": ["lower"]}, True, False, True),
])
def test_pairs(name: str, changes: dict[str, object], in_phase: bool, cancels: bool, shared: bool) -> None:
    (pair,) = pairs(load_case(name, changes))
    assert (pair.in_phase, pair.hum_cancels, pair.shared) == (in_phase, cancels, shared)
    assert ("in phase" in pair.words, "hum cancels" in pair.words) == (in_phase, cancels)


def test_one_coil_alone_is_no_pair() -> None:
    assert pairs(load_case("side-by-side-six", {"connection.coils": "slugs"})) == ()
    assert pairs(load_case("baritone-six")) == ()


def test_every_coil_knows_its_poles() -> None:
    first, second = ends_in_coils(load_case("side-by-side-six"))
    assert ([e.pole for e in first], [e.pole for e in second]) == ([*range(1, 7)], [*range(7, 13)])
    assert [e.name for e in ends_in_coils(load_case("blade-six"))[0]] == ["blade", "bar"]
