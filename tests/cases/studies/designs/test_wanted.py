"""What gives a wanted peak, level or field: the answer is solved anew by another way, and has what was wanted."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.jobs.wind import case_wound_on, settled_turns, solved_coils
from stringflux.cases.solved.windings import coil_windings
from stringflux.cases.studies.designs.aims import Aim
from stringflux.cases.studies.designs.answer_words import answer_words
from stringflux.cases.studies.designs.answered import answered
from stringflux.cases.studies.designs.wanted import (
    LEAST_SHARE,
    charge_reaching,
    charges_of,
    searched,
    turns_reaching,
    wound_to,
)
from stringflux.geometry import CaseError

pytestmark = pytest.mark.usefixtures("shared_solutions")

A_TURN = 5e-4  # of some thousands, twice over
FILLED = {"coil.fill": 0.65}


def test_a_root_of_a_law_that_bends() -> None:
    for wanted in (2.0, 50.0, 400.0):
        n, y = searched(lambda n: n + 0.1 * n**2, wanted, (10.0, 20.0), 0.1, 1000.0, 1.0)
        assert n + 0.1 * n**2 == pytest.approx(wanted, rel=1e-3)
        assert y == pytest.approx(wanted, rel=1e-3)


def test_the_end_is_the_nearest() -> None:
    assert searched(lambda n: n, 50.0, (10.0, 10.0), 1.0, 20.0, 1.0) == pytest.approx((20.0, 20.0))


def test_where_there_is_no_value_the_search_comes_back() -> None:
    n, y = searched(lambda n: 1 / n if n > 2 else None, 0.45, (10.0, 0.1), 0.1, 100.0, -0.4)
    assert (n, y) == pytest.approx((1 / 0.45, 0.45), rel=1e-3)


@pytest.mark.slow
@pytest.mark.parametrize("changes", [{}, FILLED])
def test_a_loaded_peak(changes: dict[str, float]) -> None:
    found = turns_reaching(load_case("bench-single", changes), "peak", 16e3, 0, quality="draft")
    assert found.near
    assert found.case.coil.turns == found.at > 5000
    first, *_ = solve(found.case, quality="draft").impedance().responses().values()
    assert first.resonance == pytest.approx(16e3, rel=A_TURN)


def test_a_level() -> None:
    case = load_case("bench-single")
    before = solve(case, quality="draft").signal()[0].signal.rms
    found = turns_reaching(case, "level", before * 10 ** (-3 / 20), 0, quality="draft")
    assert found.near
    assert found.before == pytest.approx(before, rel=1e-6)
    after = solve(found.case, quality="draft").signal()[0].signal.rms
    assert after == pytest.approx(before * 10 ** (-3 / 20), rel=A_TURN)


def test_a_peak_that_no_turns_give_has_the_nearest() -> None:
    found = turns_reaching(load_case("bench-single"), "peak", 2e3, 0, quality="draft")
    (made,) = coil_windings(load_case("bench-single"))
    assert not found.near
    assert found.at == made.packings[0].most_turns  # as windings are, not at the densest
    assert found.value is not None
    assert found.before is not None
    assert 2e3 < found.value < found.before


@pytest.mark.slow
def test_a_field_by_the_charge() -> None:
    case = load_case("baritone-six", {"pole.1.part.1.charge": 0.9})
    found = charge_reaching(case, 0.1, quality="draft")
    poles = solve(found.case, quality="draft").prediction(maps=False).poles
    assert found.near
    assert np.mean([abs(p.field) for p in poles]) == pytest.approx(0.1, rel=2e-3)
    assert [abs(b) for b in found.faces] == pytest.approx([abs(p.field) for p in poles], rel=1e-6)
    assert set(charges_of(found.case).values()) == {found.at}
    assert found.at < 0.9


def test_more_than_a_full_charge_is_not_to_be_had() -> None:
    found = charge_reaching(load_case("bench-single", {"pole.1.part.1.charge": 0.8}), 0.3, quality="draft")
    assert (found.near, found.at) == (False, 1.0)
    with pytest.raises(CaseError, match="a magnet with a charge"):
        charge_reaching(load_case("bench-single", {"pole.1.part.1.charge": 0}), 0.1)


def test_a_resistance_that_does_not_fit_has_the_sheet_of_the_nearest() -> None:
    case = load_case("baritone-six", {"coil.fill": 0.7})
    found, answer = answered(case, coil_windings(case), Aim(kind="resistance", value=14e3), None)
    (made,) = coil_windings(answer)
    assert not found.fits
    assert found.nearest == answer.coil.turns == made.turns
    assert found.reached == pytest.approx(made.resistance, rel=1e-9)
    assert made.wound == pytest.approx(made.width, rel=1e-3)
    said = " ".join(answer_words(found, case, coil_windings(case)[0]))
    assert f"The nearest that do, packed as the case says, are {found.nearest}" in said


@pytest.mark.parametrize("changes", [{}, FILLED])
def test_coils_wound_to_a_value_have_the_turns_that_the_laws_say(changes: dict[str, float]) -> None:
    """From a tenth of the turns; the laws know how R goes by the length of wire, and solve L anew."""
    case = load_case("bench-single", changes)
    coils = solved_coils(case, coil_windings(case), "draft")
    few = case_wound_on(case, 0.1)
    R = 1.1 * coils.resistance(0, 5000)
    assert wound_to(few, "resistance", R, quality="draft").coil.turns == pytest.approx(
        coils.turns_for("resistance", R, 0), abs=1)
    L = 1.21 * coils.inductance_with(0, 5000)
    assert wound_to(few, "inductance", L, quality="draft").coil.turns == pytest.approx(
        settled_turns(coils, L, 0, "draft"), abs=2)


def test_what_no_turns_give_is_as_near_as_the_window_holds() -> None:
    case = load_case("bench-single", FILLED)
    most = coil_windings(case)[0].packings[0].most_turns
    assert wound_to(case, "resistance", 1e6, quality="draft").coil.turns == most
    assert wound_to(case, "resistance", 1e-3, quality="draft").coil.turns == pytest.approx(LEAST_SHARE * most, abs=1)
