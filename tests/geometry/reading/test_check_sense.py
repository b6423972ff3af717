"""Nonsense that can be written is refused in a sentence, or told; real pickups are not."""

from __future__ import annotations

from typing import Any

import pytest

from rigs.cases.case_data import DROP, USES, changed
from stringflux.cases.files.load import load_case, shipped_cases
from stringflux.geometry import read_case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.check_sense import copper_resistance, oddities
from stringflux.postprocess.coil.winding import winding

NONSENSE: list[tuple[dict[str, Any], str]] = [
    ({"coil.turns": 6.5, "coil.taps": []}, "coil, turns: received 6.5; a coil of so few turns has whole ones"),
    ({"coil.turns": 6.5, "coil.taps": []}, "written without a mark: 6500"),
    ({"string.1.pitch": "E5"}, "string 2, pitch: received 659.3 Hz, for which"),
    ({"coil.resistance": "6.1 ohm"}, "coil, resistance: received 0.0061 kohm, but"),
    ({"coil.capacitance": "95 nF"}, "coil, capacitance: received 95000 pF, far more than a winding has"),
    ({"strings.bridge_distance": "900 mm", "strings.last_fret": DROP, "strings.action": DROP,
      "string.2.fretted_gap": DROP, "string.2.gap": "2 mm"},
     "strings, bridge_distance: received 900 mm, beyond string 1"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "said"), NONSENSE)
def test_nonsense_is_refused(changes: dict[str, Any], said: str) -> None:
    with pytest.raises(CaseError) as told:
        read_case(changed(changes), materials=USES)
    assert said in str(told.value)


@pytest.mark.parametrize("name", shipped_cases())
def test_shipped_cases_make_sense(name: str) -> None:
    case = load_case(name)
    assert oddities(case) == ()
    assert copper_resistance(case.coil) == pytest.approx(winding(case).resistance, rel=0.1)


@pytest.mark.parametrize("changes", [{"coil.turns": 1}, {"coil.turns": 6500.5}])
def test_a_turn_for_a_lesson_and_a_measured_mean_are_taken(changes: dict[str, Any]) -> None:
    assert load_case("bench-single", changes).coil.turns == changes["coil.turns"]


def test_strings_that_miss_their_poles_are_told() -> None:
    beside = {f"string.{i}.position": f"{(i - 3.5) * 10 + 5:.1f} mm" for i in range(1, 7)}
    (said,) = oddities(load_case("baritone-six", beside))
    assert said.startswith("every string lies beside its pole")
    assert oddities(load_case("baritone-six", {"string.1.position": "-20 mm"})) == ()


def test_more_turns_than_windings_hold_are_told() -> None:
    (said,) = oddities(load_case("baritone-six", {"coil.turns": 8500}))
    assert said.startswith("8500 turns of 42 AWG take 73% of their room")
    assert oddities(load_case("baritone-six", {"coil.turns": 8500, "coil.fill": 0.74})) == ()  # it is meant
    (said,) = oddities(load_case("stacked-six", {"second_coil.1.coil.turns": 9000}))
    assert "lower: 9000 turns" in said or said.startswith(f"{load_case('stacked-six').coil_names()[1]}: 9000")
