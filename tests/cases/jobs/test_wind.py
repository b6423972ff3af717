"""Turns whose winding is as thick as they make it: all that follows moves with them."""

from __future__ import annotations

import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.jobs.wind import case_of_turns, settled_turns, solved_coils
from stringflux.cases.solved.windings import coil_windings

pytestmark = pytest.mark.usefixtures("shared_solutions")

HALF_A_TURN = 1e-4  # of 5000


def test_more_turns_move_mean_turn_resistance_inductance_and_capacitance() -> None:
    less = solve(load_case("bench-single", {"coil.fill": 0.65}), quality="draft")
    more = less.with_({"coil.turns": 5500})
    before, after = less.winding()[0], more.winding()[0]
    assert after.mean_turn > 1.01 * before.mean_turn
    assert after.resistance > 1.11 * before.resistance
    grown = more.solved.inductance() / less.solved.inductance()
    assert grown > 1.1**2 * 1.002  # as it would be in one window, and what the larger turns go round besides
    assert after.capacitance != pytest.approx(before.capacitance, rel=1e-3)


def test_full_windows_are_as_they_were() -> None:
    full = load_case("bench-single")
    L = [solve(c, quality="draft").solved.inductance() for c in (full, case_of_turns(full, 0, 5500))]
    assert L[1] / L[0] == pytest.approx(1.21, rel=1e-9)


def test_turns_for_an_inductance_settle() -> None:
    case = load_case("bench-single", {"coil.fill": 0.65})
    coils = solved_coils(case, coil_windings(case), "draft")
    wanted = 0.8 * coils.inductance_with(0, 5000)
    turns = settled_turns(coils, wanted, 0, "draft")
    found = solve(case_of_turns(case, 0, turns), quality="draft").solved.inductance()
    assert found == pytest.approx(wanted, rel=4 * HALF_A_TURN)
    assert abs(turns / (5000 * 0.8**0.5) - 1) > 4 * HALF_A_TURN  # as it would be in one window
    wound = coil_windings(case_of_turns(case, 0, turns))[0]
    assert coils.resistance(0, turns) == pytest.approx(wound.resistance, rel=1e-9)
