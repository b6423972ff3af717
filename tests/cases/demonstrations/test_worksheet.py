"""Sheets: answers worked out anew from what is printed, and variants that differ in each of them."""

from __future__ import annotations

import html
import itertools
import math
import re
from collections.abc import Iterator

import numpy as np
import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.demonstrations.settings import LessonSettings
from stringflux.cases.demonstrations.string import driven
from stringflux.cases.demonstrations.worksheet import AMPLITUDE, FREQUENCY, GOLDEN, TURNS, refuse, worksheet_figures
from stringflux.cases.pickup import Pickup
from stringflux.geometry.errors import CaseError, InputError
from stringflux.postprocess.demonstrations.quantities import digits, scale
from stringflux.postprocess.worksheet.page import page
from stringflux.postprocess.worksheet.questions import Worksheet, sheet_of

pytestmark = pytest.mark.usefixtures("shared_solutions")

CLASS = 8
"""Sheets that are solved; of a whole class of 30 the spread of u is looked at."""


def _sheet(pickup: Pickup, seed: int | None, string: int = 1) -> tuple[Worksheet, str]:
    figures, section = worksheet_figures(pickup, string, seed)
    sheet = sheet_of(figures)
    return sheet, html.unescape(page(sheet, section, name="mine", seed=seed, answers=False))


@pytest.fixture(scope="module")
def bench() -> Pickup:
    return solve(load_case("bench-single"), quality="draft")


@pytest.fixture(scope="module")
def sheets(bench: Pickup) -> list[Worksheet]:
    return [_sheet(bench, seed)[0] for seed in range(CLASS)]


def _three(value: float) -> float:
    """A student writes three digits down."""
    return float(digits(value).replace("−", "-"))


def _numbers(text: str) -> tuple[dict[str, float], list[float]]:
    """What a student reads on the page, SI: the given numbers, and ΔΦ row by row."""
    given = {symbol: float(value) / scale(unit)
             for symbol, value, unit in re.findall(r"<td>(\S+) = ([\d.]+) ([^<]+)</td>", text)}
    unit = re.search(r"from rest <span>(\w+)</span>", text)
    assert unit is not None
    rows = re.findall(r'<tr><th scope="row">\d</th><td>[^<]*</td><td>[^<]*</td><td>([^<]*)</td>', text)
    return given, [float(x.replace("−", "-")) / scale(unit[1]) for x in rows]


def _worked(given: dict[str, float], flux: list[float]) -> Iterator[tuple[str, float]]:
    """A student's way through the sheet, with three digits at every step and by the columns of the table."""
    micro = 1e6
    wire = _three(given["R"] * 3.1416 * given["d"] ** 2 / (4 * given["ρ"]))
    yield "ℓ", wire
    turns = _three(wire / given["ℓ₁"])
    yield "N", turns
    column = [_three(turns * x * micro) / micro for x in flux]
    yield "Δλ", abs(column[0] - column[-1])
    if "Φₘ" in given:
        yield "part", abs(flux[0] - flux[-1]) / given["Φₘ"]
    lasts = 1 / (12 * given["f"])
    yield "ê", max(_three(abs(a - b) / lasts * micro) / micro for a, b in itertools.pairwise(column))
    speed = _three(2 * 3.1416 * given["f"] * given["A"])
    yield "v", speed
    slope = _three(abs(column[2] - column[4]) / given["A"])
    yield "S", slope
    volts = _three(slope * speed)
    yield "e", volts
    yield "U", volts / 1.414
    yield "e′", 2 * volts


@pytest.mark.slow
@pytest.mark.parametrize(("case", "string", "seeds"), [
    ("bench-single", 1, (None, *range(6))), ("bass-four", 3, (None, 5)), ("baritone-six", 6, (2,))])
def test_a_student_comes_within_the_tolerance(case: str, string: int, seeds: tuple[int | None, ...]) -> None:
    pickup = solve(load_case(case), quality="draft")
    for seed in seeds:
        sheet, text = _sheet(pickup, seed, string)
        worked = dict(_worked(*_numbers(text)))
        assert [a.question.symbol for a in sheet.answers] == list(worked)
        assert 6 <= len(worked) <= 10
        for a in sheet.answers:
            assert abs(worked[a.question.symbol] - a.value) <= a.tolerance, (seed, a.question.symbol)
            assert a.tolerance < 0.06 * a.value, "else a neighbour's answer would do"


def test_answers_are_those_of_the_driven_string(bench: Pickup) -> None:
    """Not of the sheet's own formulas: turns of the case, e and its rms of `demonstrate string`."""
    sheet, _ = _sheet(bench, None)
    found, _ = driven(bench, LessonSettings())
    by = {a.question.symbol: a.value for a in sheet.answers}
    n = (found.time.size - 1) // 2
    assert by["N"] == bench.case.coil.turns
    assert by["e"] == pytest.approx(found.emf[n], rel=1e-6)
    assert by["U"] == pytest.approx(math.sqrt(float(np.mean(found.emf[:n] ** 2))), rel=1e-6)
    assert by["Δλ"] == pytest.approx(np.ptp(found.linkage), rel=2e-3)
    assert by["ℓ"] == pytest.approx(bench.winding(20.0)[0].length, rel=1e-6)


def test_twice_the_turns_are_solved_so(bench: Pickup) -> None:
    """The last question's 2 e, by a solve with half the turns."""
    half, _ = _sheet(bench.with_({"coil.turns": bench.case.coil.turns / 2}), None)
    whole, _ = _sheet(bench, None)
    assert half.answers[-1].value == pytest.approx(whole.figures.at_rest, rel=1e-3)


def test_every_answer_differs_between_sheets(sheets: list[Worksheet]) -> None:
    for one, two in itertools.combinations(sheets, 2):
        for a, b in zip(one.answers, two.answers, strict=True):
            assert a.printed != b.printed
    for one, two in itertools.pairwise(sheets):
        for a, b in zip(one.answers, two.answers, strict=True):
            assert abs(a.value - b.value) > 2 * (a.tolerance + b.tolerance), "a neighbour's answer is wrong here"


def test_sheets_of_a_class_lie_apart() -> None:
    """Every answer grows with u as turns, frequency or amplitude do: by 1 % or more from one of 30 to the next."""
    for first in (0, 500, 9970):
        u = np.sort((first + np.arange(30)) * GOLDEN % 1.0)
        for low, high in (TURNS, FREQUENCY, AMPLITUDE):
            assert np.min(np.diff(u)) * (high - low) / high > 0.01


def test_answers_grow_with_u(sheets: list[Worksheet]) -> None:
    in_order = sorted(sheets, key=lambda s: s.figures.turns)
    values = np.array([[a.value for a in s.answers] for s in in_order])
    assert np.all(np.diff(values, axis=0) > 0)


def test_the_same_seed_is_the_same_page(bench: Pickup) -> None:
    assert _sheet(bench, 7)[1] == _sheet(solve(load_case("bench-single"), quality="draft"), 7)[1]


def test_sense_of_the_winding_says_which_end_is_plus(bench: Pickup) -> None:
    """N Φ falls as the string leaves a north pole under a coil wound counter-clockwise, so e > 0: its end is +."""
    other, _ = _sheet(bench.with_({"coil.winding": "clockwise"}), None)
    first = next(a for a in _sheet(bench, None)[0].answers if a.question.symbol == "e")
    second = next(a for a in other.answers if a.question.symbol == "e")
    assert "its end is +" in first.question.remark
    assert "its start is +" in second.question.remark
    assert first.value == pytest.approx(second.value, rel=1e-9)


@pytest.mark.parametrize(("case", "changes", "says"), [
    ("side-by-side-six", {}, "2 coils"),
    ("bench-single", {"pole.1.part.1.charge": 0}, "nothing magnetises"),
])
def test_cases_without_a_meaning_are_refused(case: str, changes: dict[str, object], says: str) -> None:
    try:
        read = load_case(case, changes)
    except CaseError:
        pytest.fail("the case itself has to be sound")
    with pytest.raises(CaseError, match=says):
        refuse(read, 1)


def test_a_string_that_is_not_there_is_refused(bench: Pickup) -> None:
    with pytest.raises(InputError, match="1 to 1"):
        refuse(bench.case, 2)
