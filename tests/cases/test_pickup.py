"""A pickup: a case with its solution, and every figure of it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from rigs.cases.strings_at_rest import gaps
from stringflux.cases import Pickup, load_case, solve
from stringflux.cases.files.load import shipped_cases
from stringflux.cases.jobs import plucked
from stringflux.cases.solved import solve_build as case_solid
from stringflux.cases.solved import solve_row as case_row
from stringflux.geometry.errors import CaseError, InputError
from stringflux.geometry.reading.read import changed_case
from stringflux.postprocess.plucked.sensed import sensed_string

ROW, BUILD = "bench-single", "stacked-six"


@pytest.fixture
def solves(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What was solved."""
    told: list[str] = []

    def watch(module: Any, name: str) -> None:
        made = getattr(module, name)
        monkeypatch.setattr(module, name, lambda *given, **more: told.append(name) or made(*given, **more))

    watch(case_row, "solve_row")
    watch(case_solid, "solve_solid")
    return told


def test_nothing_is_solved_before_it_is_asked_for_and_nothing_twice(solves: list[str]) -> None:
    pickup = solve(load_case(ROW), quality="draft")
    assert pickup.winding()[0].turns == pickup.case.coil.turns
    assert solves == []
    one = pickup.prediction(maps=False)
    assert pickup.prediction(maps=False) is one
    assert pickup.impedance() is pickup.impedance()
    assert pickup.hum() is pickup.hum()
    assert solves == ["solve_row"]


@pytest.mark.slow
def test_one_string_is_played_without_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    """Alone it sounds as among all, at the amplifier too; no other is made ready for it."""
    pickup = solve(load_case("baritone-six", {"pole.1.part.1.material": "alnico-2"}), quality="draft")
    made: list[float] = []
    monkeypatch.setattr(plucked, "sensed_string", lambda field, shape, *given, **more: made.append(
        shape.y) or sensed_string(field, shape, *given, **more))
    alone = pickup.played(5, loaded=True)
    assert len(made) == 1
    assert alone.number == 5
    np.testing.assert_array_equal(alone.signal.voltage, pickup.signal(loaded=True)[4].signal.voltage)
    assert len(made) == 6
    assert pickup.played(5, loaded=True) is alone
    with pytest.raises(InputError, match="string"):
        pickup.played(7)


def test_a_change_keeps_what_it_does_not_touch(solves: list[str]) -> None:
    pickup = solve(load_case(ROW), quality="draft")
    before = pickup.prediction(maps=False)
    other = pickup.with_({"string.1.gap": "2 mm", "coil.turns": 5000}).prediction(maps=False)
    assert solves == ["solve_row"]  # other gaps and turns solve nothing again
    assert other.strings[0].gap == pytest.approx(2e-3)
    assert gaps(pickup.with_({"string.1.gap": 2e-3}).case) == pytest.approx([2e-3])  # a float is in SI
    assert other.coil.turns == 5000
    assert pickup.prediction(maps=False) is before
    anew = solve(load_case(ROW, {"string.1.gap": "2 mm", "coil.turns": 5000}), quality="draft")
    assert anew.prediction(maps=False).strings[0].sensitivity == other.strings[0].sensitivity
    pickup.with_({"pole.1.part.1.charge": 0.9}).prediction(maps=False)
    assert solves == ["solve_row"] * 3


@pytest.mark.slow
def test_a_build_answers_alike(solves: list[str]) -> None:
    pickup = solve(load_case(BUILD), quality="draft")
    assert isinstance(pickup, Pickup)
    assert pickup.solver == "solid"
    heard = pickup.prediction(maps=False).strings[0].sensitivity
    closer = pickup.with_({"strings.gap": "2 mm"})
    assert closer.prediction(maps=False).strings[0].sensitivity != heard
    assert list(pickup.shares()) == list(pickup.case.coil_names())
    assert len(pickup.hum().coils) == 2
    assert solves == ["solve_solid"]


def test_the_enamel_loses_at_the_peak() -> None:
    pickup = solve(load_case("bench-single"), quality="draft")
    circuit, made = pickup.impedance().circuit, pickup.winding()[0]
    assert circuit.loss == made.loss > 0
    top, without = circuit.resonance(), replace(circuit, loss=0.0).resonance()
    assert top is not None
    assert without is not None
    lost = 2 * np.pi * top.frequency * circuit.capacitance * circuit.loss  # S across the terminals
    assert 1 / top.magnitude == pytest.approx(1 / without.magnitude + lost, rel=0.01)


def test_shares_of_one_coil() -> None:
    assert solve(load_case(ROW), quality="draft").shares() == {"coil": 1.0}


@pytest.mark.parametrize("name", shipped_cases())
def test_a_case_changed_in_nothing_is_the_case(name: str) -> None:
    case = load_case(name)
    assert changed_case(case, {}) == case
    assert changed_case(case, {"coil.turns": 3210}).coil == load_case(name, {"coil.turns": 3210}).coil


@pytest.mark.parametrize(("changes", "words"), [
    ({"string.1.gap": 2}, "string 1, gap: received the bare number 2; write a length with its unit"),
    ({"string.9.gap": "2 mm"}, 'has "9" where a number from 1 to 1 belongs'),
    ({"pole.1.part.1.material": "alnicoo"}, "pole 1, part 1, material: received"),
    ({"coil.turn": 3}, '"turn" is not a key here'),
])
def test_a_wrong_change_is_one_sentence(changes: dict[str, Any], words: str) -> None:
    with pytest.raises(CaseError, match=words.replace("(", r"\(").replace("?", r"\?")):
        solve(load_case(ROW), quality="draft").with_(changes)


def test_another_quality_is_refused() -> None:
    with pytest.raises(CaseError, match="quality: received \"best\"; write draft, normal, fine"):
        solve(load_case(ROW), quality="best")
