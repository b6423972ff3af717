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


def builds(*pairs: tuple[float, float]) -> list[dict[str, str]]:
    return [{"height": f"{h} mm", "build": f"{b} mm"} for h, b in pairs]


WAIST = builds((0, 4.2), (5.5, 3), (11, 4.2))


def test_a_build_that_changes_along_the_height() -> None:
    found = coil(wound_builds=WAIST)
    track = found.racetrack()
    assert found.wound == track.build == pytest.approx(4.2e-3)
    assert track.builds == ((-12e-3, 4.2e-3), (-6.5e-3, 3e-3), (-1e-3, 4.2e-3))
    assert found.wound_area == pytest.approx(11e-3 * 3.6e-3)
    assert found.moves_with_turns
    assert found.mean_turn == pytest.approx(2 * track.straight + 2 * math.pi * track.mean_radius)
    assert found.mean_turn < coil().mean_turn


def test_over_the_ends_of_its_list_a_build_stays() -> None:
    track = coil(wound_builds=builds((2, 4), (6, 3))).racetrack()
    assert track.builds == ((-12e-3, 4e-3), (-10e-3, 4e-3), (-6e-3, 3e-3), (-1e-3, 3e-3))
    assert coil(wound_builds=builds((0, 4), (11, 4))).racetrack() == coil(wound_build="4 mm").racetrack()


def test_wound_on_it_grows_alike_and_a_tap_has_its_share() -> None:
    found = coil(wound_builds=WAIST)
    for made, share in ((found.of_turns(7070), 1.01), (found.inside(3500), 0.5)):
        assert made.racetrack().area == pytest.approx(found.wound_area * share, rel=1e-6)
        assert made.racetrack().builds[1][1] == pytest.approx(3e-3 * share, rel=1e-6)
    assert found.of_turns(7010).mean_turn > found.mean_turn  # ten turns more lie outside


def test_sections_by_slices() -> None:
    cone = coil(wound_builds=builds((0, 3.2), (11, 4.2))).racetrack()
    assert [1e3 * cone.build_at(z) for z in (-13e-3, -12e-3, -6.5e-3, 0.0)] == pytest.approx([3.2, 3.2, 3.7, 4.2])
    assert cone.build_between(-12e-3, -6.5e-3) == pytest.approx(3.7e-3)
    waist = coil(wound_builds=WAIST).racetrack()
    assert waist.build_between(-9e-3, -4e-3) == pytest.approx(waist.build_at(-4e-3) if waist.build_at(-4e-3) >
                                                              waist.build_at(-9e-3) else waist.build_at(-9e-3))
    assert waist.build_between(-12e-3, -1e-3) == pytest.approx(4.2e-3)


@pytest.mark.parametrize(("changes", "words"), [
    ({"wound_builds": WAIST, "fill": 0.65}, "coil, fill: received together with wound_builds"),
    ({"wound_builds": WAIST, "wound_build": "3 mm"}, "coil, wound_build: received together with wound_builds"),
    ({"wound_builds": builds((0, 4))}, "coil, wound_builds: received one height; write two or more"),
    ({"wound_builds": builds((0, 4), (5, 4.3))}, "coil, wound_builds: item 2 has the build 4.3 mm, more than the"),
    ({"wound_builds": builds((0, 4), (11.5, 4))}, "item 2 has the height 11.5 mm over the winding's lower edge, and"),
    ({"wound_builds": builds((3, 4), (2, 4))}, "item 2 has the height 2 mm, after 3 mm; write them from the lower"),
    ({"wound_builds": builds((0, 4), (5, 0.03))}, "item 2 has the build 0.03 mm, less than one wire of 0.066 mm"),
    ({"wound_builds": builds((0, 2), (11, 3))}, "27.5 mm² of section, but 7000 of 42 AWG take at least 30.56 mm²"),
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
