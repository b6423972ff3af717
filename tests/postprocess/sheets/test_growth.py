"""A winding while it grows: laws, and the whole at the end."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stringflux.cases import load_case
from stringflux.postprocess.coil.winding import winding
from stringflux.postprocess.sheets.growth import MOST_HEIGHTS, along_height, by_thousands, grown, thirds


@pytest.mark.parametrize("name", ["baritone-six", "bench-single"])
def test_the_end_is_the_whole_coil_and_the_rest_a_sum_of_turns(name: str) -> None:
    case = load_case(name)
    made, track = winding(case), case.racetrack()
    end = grown(made, track, made.turns)
    assert end.resistance == pytest.approx(made.resistance, rel=1e-12)
    assert end.build == track.build
    # turn by turn, each at its own radius: the closed form is the sum up to half a turn's thickness
    radius = track.inner_radius + track.build * (np.arange(made.turns) + 0.5) / made.turns
    lengths = 2 * track.straight + 2 * np.pi * radius
    for n in (1000, 2500):
        share = lengths[:n].sum() / lengths.sum()
        assert grown(made, track, n).resistance == pytest.approx(made.resistance * share, rel=1e-9)


def test_thirds_grow_evenly_and_inner_turns_have_less() -> None:
    case = load_case("baritone-six")
    first, second, last = thirds(winding(case), case.racetrack())
    assert (first.build, second.build) == pytest.approx((last.build / 3, 2 * last.build / 3))
    assert first.resistance < last.resistance / 3
    assert last.across == pytest.approx(13.4e-3)


def test_a_build_that_changes_grows_alike_at_all_heights() -> None:
    builds = [{"height": "0 mm", "build": "3.1 mm"}, {"height": "11 mm", "build": "4.1 mm"}]
    case = load_case("baritone-six", {"coil.wound_builds": builds})
    made, track = winding(case), case.racetrack()
    half = grown(made, track, made.turns / 2)
    inner = winding(case.model_copy(update={"coil": case.coil.of_turns(made.turns / 2)}))
    assert half.resistance == pytest.approx(inner.resistance, rel=1e-9)
    assert half.build == pytest.approx(2.05e-3)
    assert along_height(track)[0] == pytest.approx((0.0, 3.1e-3 / 3, 6.2e-3 / 3, 3.1e-3))
    many = replace(track, builds=tuple((track.bottom + 1e-3 * i, 1e-3 * w) for i, w in enumerate(
        (3.0, 3.1, 3.2, 4.1, 3.3, 2.9, 3.0, 3.0, 3.0, 3.0, 3.0, 3.0))))
    told = along_height(many)
    assert len(told) == MOST_HEIGHTS
    assert {round(1e3 * row[-1], 3) for row in told} >= {2.9, 4.1}
    assert (told[0][0], told[-1][0]) == pytest.approx((0.0, 11e-3))


@pytest.mark.parametrize(("turns", "expected"), [
    (7000, [1000, 2000, 3000, 4000, 5000, 6000, 7000]), (2500, [1000, 2000, 2500]), (1500, [*range(100, 1501, 100)]),
    (40000, [*range(5000, 40001, 5000)])])
def test_steps_of_the_counter(turns: int, expected: list[int]) -> None:
    case = load_case("baritone-six", {"coil.turns": turns, "coil.wire": "0.02 mm", "coil.insulation": "grade 1",
                                      "coil.overall_diameter": "0.024 mm"})
    assert [g.turns for g in by_thousands(winding(case), case.racetrack())] == expected
