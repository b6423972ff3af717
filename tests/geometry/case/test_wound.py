"""The winding in its window: how thick the turns come out, and what is refused."""

from __future__ import annotations

import math
from typing import Any

import pytest

from stringflux.cases import load_case
from stringflux.geometry import CaseError
from stringflux.geometry.case.coil import Coil

ROUNDING = 1e-9  # lengths are rounded to picometres


def coil(**changes: Any) -> Coil:
    return load_case("baritone-six", {f"coil.{key}": value for key, value in changes.items()}).coil


def test_without_a_word_the_winding_fills_its_window() -> None:
    for turns in (100, 7000):
        found = coil(turns=turns)
        assert found.wound == found.thickness == found.racetrack().build
        assert not found.moves_with_turns


def test_by_fill_the_turns_take_what_they_take() -> None:
    found = coil(fill=0.7)
    d = found.winding_wire().overall[1]
    section = found.wound * (found.top - found.bottom)
    assert 7000 * math.pi / 4 * d**2 / section == pytest.approx(0.7, rel=ROUNDING)
    track = found.racetrack()
    assert (track.build, track.inner_radius) == (found.wound, coil().racetrack().inner_radius)  # from the inside
    more = coil(fill=0.7, turns=7010)
    assert more.wound / found.wound == pytest.approx(7010 / 7000, rel=ROUNDING)


def test_layers_side_by_side_are_the_fill_of_squares() -> None:
    d = coil().winding_wire().overall[1]
    high = f"{-12 + 100 * d * 1e3:.9f} mm"
    found = coil(bottom="-12 mm", top=high, turns=1000, fill=round(math.pi / 4, 12))
    assert found.wound == pytest.approx(10 * d, rel=1e-6)  # ten layers of a hundred


def test_it_is_never_thinner_than_its_wire() -> None:
    assert coil(fill=0.65, turns=3).wound == pytest.approx(coil().winding_wire().overall[1], rel=ROUNDING)


def test_as_measured() -> None:
    found = coil(wound_build="3.9 mm")
    assert found.racetrack().build == pytest.approx(3.9e-3)
    on = found.of_turns(7070)
    assert on.wound == pytest.approx(3.9e-3 * 1.01, rel=ROUNDING)  # as dense as before
    assert on.mean_turn > found.mean_turn


def test_a_measured_resistance_goes_with_the_wire() -> None:
    found = coil(fill=0.7, resistance="6 kohm")
    on = found.of_turns(3500)
    assert on.resistance == pytest.approx(3000 * on.mean_turn / found.mean_turn, rel=ROUNDING)
    assert on.resistance is not None
    assert on.resistance < 2900  # the inner turns are shorter
    assert coil(resistance="6 kohm").of_turns(3500).resistance == pytest.approx(3000, rel=ROUNDING)


@pytest.mark.parametrize(("changes", "words"), [
    ({"fill": 0.65, "wound_build": "3 mm"}, "coil, fill: received together with wound_build"),
    ({"fill": 1.2}, "coil, fill: received 1.2; write a number without a unit from 0.2 to 0.9069"),
    ({"fill": 0.55, "turns": 7010}, "coil, turns: 7010 of 42 AWG at a fill of 0.55 are 4.587 mm thick, "
                                    "and the window has 4.2 mm; write at most 6417"),
    ({"wound_build": "4.3 mm"}, "coil, wound_build: received 4.3 mm, more than the window's 4.2 mm"),
    ({"wound_build": "2.5 mm"}, "coil, wound_build: received 2.5 mm, but 7000 of 42 AWG take at least 2.778 mm"),
])
def test_what_cannot_lie_there_is_refused(changes: dict[str, Any], words: str) -> None:
    with pytest.raises(CaseError) as caught:
        coil(**changes)
    assert words in str(caught.value)
