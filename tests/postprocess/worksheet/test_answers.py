"""The tolerance of an answer: what rounding of the given numbers can do to it, and no more."""

from __future__ import annotations

import itertools

import pytest

from stringflux.postprocess.demonstrations.quantities import digits, scale
from stringflux.postprocess.worksheet.answers import Given, Question, answered, half_digit, upwards


def _given(symbol: str, value: float, unit: str) -> Given:
    return Given(symbol=symbol, words=symbol, value=value, unit=unit)


def test_half_a_digit_is_what_rounding_takes_at_most() -> None:
    for value, unit in ((0.012345, "mm"), (9.996, "V"), (123.456, "Hz"), (1e-9, "nWb"), (54321.0, "kΩ")):
        printed = float(digits(value * scale(unit)).replace("−", "-")) / scale(unit)
        assert abs(printed - value) <= half_digit(value, unit) * (1 + 1e-9)
    assert half_digit(0.0, "V") == 0.0


def test_tolerance_holds_every_number_that_would_be_printed_alike() -> None:
    """Products and quotients by hand, all corners of what rounds to the printed numbers; and it is not twice that."""
    a, b = _given("a", 0.0123449, "mm"), _given("b", 5.0049, "V")
    question = Question(symbol="q", asks="", formula="q = a × b²", uses=("a", "b"), work=lambda x, y: x * y * y,
                        value=a.value * b.value**2, unit="V")
    answer = answered((question,), {"a": a, "b": b})[0]
    worst = max(abs((a.value + i * 0.5e-4) * (b.value + j * 0.005) ** 2 - question.value)
                for i, j in itertools.product((-1, 1), repeat=2))
    assert answer.tolerance == pytest.approx(worst + half_digit(question.value, answer.unit), rel=1e-9)
    assert answer.numbers == "12.3 mm × (5.00 V)²"


def test_earlier_answers_hand_their_tolerance_on() -> None:
    """Also by how far the way of the sheet is off what the program has: here 3 %."""
    one = _given("a", 2.0, "V")
    first = Question(symbol="b", asks="", formula="b = 2 × a", uses=("a",), work=lambda x: 2 * x, value=4.12,
                     unit="V")
    second = Question(symbol="c", asks="", formula="c = b − 1", uses=("b",), work=lambda x: x - 1, value=3.12,
                      unit="V", written=0.1)
    b, c = answered((first, second), {"a": one})
    assert b.tolerance == pytest.approx(0.12 + 0.01 + 0.005)
    assert c.tolerance == pytest.approx(b.tolerance + 0.005 + 0.1)
    assert b.within == "± 0.14 V"  # never less than it is


@pytest.mark.parametrize(("value", "printed"), [(0.0123, "0.013"), (0.99, "0.99"), (0.991, "1.0"), (55.2, "56")])
def test_tolerances_are_rounded_up(value: float, printed: str) -> None:
    assert upwards(value) == printed
    assert float(upwards(value)) >= value
