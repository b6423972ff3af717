"""What the page computes by itself is what the program says: on 200 designs that a hand comes to."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.moved_strings import DECIBEL, LINKAGE, Moved, moved
from stringflux.cases import load_case, solve
from stringflux.cases.live.moved import unmoved
from stringflux.geometry.reading.read import changed_case

pytestmark = pytest.mark.slow

OF_PEAK = 3e-3  # of its frequency: the page reads it from steps of 3 %
PLACES, LOADS, TURNS = 40, 5, 4  # designs with a string moved, of each with other controls, and with other turns


@pytest.fixture(scope="module")
def states() -> Moved:
    """200 designs."""
    pickup = solve(load_case("bench-single"), quality="draft")
    turns = [int(pickup.case.coil.turns), *np.random.default_rng(7).integers(2000, 8000, TURNS - 1).tolist()]
    return moved(pickup, 1, turns, places=PLACES, loads=LOADS)


def test_linkage_of_a_moved_string(states: Moved) -> None:
    assert len(states.page) == 200
    assert states.linkage() < LINKAGE


def test_sensitivity_of_a_moved_string(states: Moved) -> None:
    assert states.sensitivity() < DECIBEL


def test_response_with_other_controls_and_turns(states: Moved) -> None:
    for page, program in zip(states.page, states.program, strict=True):
        assert abs(page["resistance"] / program["resistance"] - 1) < 1e-6
    assert states.levels() < DECIBEL


def test_what_a_response_is_known_by(states: Moved) -> None:
    for page, program in zip(states.page, states.program, strict=True):
        own, known = page["known"], program["known"]
        assert abs(own["level"] - known.level) < DECIBEL
        assert (own["peak"] is None) == (known.peak is None) or (known.peak or own["peak"]) < 2 * DECIBEL
        if own["peak"] is not None and known.peak is not None:
            assert abs(own["peak"] - known.peak) < DECIBEL
            if known.peak > 1:
                assert abs(own["resonance"] / known.resonance - 1) < OF_PEAK
        if known.corner is not None and own["corner"] is not None:
            assert abs(own["corner"] / known.corner - 1) < OF_PEAK


def test_what_is_the_same_but_for_what_the_page_moves() -> None:
    case = load_case("baritone-six")
    for same in ({"string.3.gap": "2 mm"}, {"strings.spacing": "9 mm"}, {"coil.turns": 6000},
                 {"load.tone_setting": 0.5}, {"title": "another"}):
        assert unmoved(changed_case(case, same)) == unmoved(case), same
    for other in ({"pole.1.part.1.diameter": "4.5 mm"}, {"string.3.gauge": "0.020 in"}, {"coil.wire": "43 AWG"}):
        assert unmoved(changed_case(case, other)) != unmoved(case), other


def test_turns_that_take_other_room_are_another_design() -> None:
    def key(turns: int, **coil: object) -> str:
        return unmoved(load_case("bench-single", {"coil.turns": turns, **{f"coil.{k}": v for k, v in coil.items()}}))

    assert key(5000) == key(4900)  # in one window the page works them out
    assert key(5000, fill=0.65) != key(4900, fill=0.65)
    builds = [{"height": "0 mm", "build": "3 mm"}, {"height": "11 mm", "build": "4 mm"}]
    assert key(5000, wound_builds=builds) != key(4900, wound_builds=builds)
