r"""Numbers that are given, questions, and how far an answer may be off.

A number is printed with three digits, so what a student works with is off by up to half its last digit, h. An
answer a = f(x₁, x₂, …) is worked out from given numbers and from earlier answers, each rounded by the student in its
turn. With p what the program has for it, not from these numbers but from the solution, the tolerance is ::

    Δ = max |f(x₁ ± Δ₁, x₂ ± Δ₂, …) − p| + h(p) + w

over all corners: Δᵢ = h for a given number, its own tolerance for an earlier answer; w for numbers that were written
into the table on the way. So Δ also holds what the student's way leaves out against the program's (a chord for a
tangent, a sine for the string's true swing).

References
----------
Derived here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import product

from ..demonstrations.quantities import best_unit, digits, scale

DIGITS = 3


def half_digit(value: float, unit: str) -> float:
    """Half the last of :data:`DIGITS` digits of an SI number that is printed in a unit, SI; 0 of nothing.

    >>> half_digit(0.01234, "mm")  # printed 12.3
    5e-05
    """
    shown = abs(value * scale(unit))
    if shown == 0:
        return 0.0
    return float(0.5 * 10.0 ** (math.floor(math.log10(shown)) - DIGITS + 1) / scale(unit))


@dataclass(frozen=True, kw_only=True)
class Given:
    """A number that stands on the sheet.

    Attributes
    ----------
    symbol, words : str
    value : float
        SI, as computed.
    unit : str
        As printed.
    """

    symbol: str
    words: str
    value: float
    unit: str

    @property
    def printed(self) -> str:
        """Number and unit."""
        return f"{digits(self.value * scale(self.unit), DIGITS)} {self.unit}".rstrip()

    @property
    def off(self) -> float:
        """By how much what is printed may be off, SI."""
        return half_digit(self.value, self.unit)


@dataclass(frozen=True, kw_only=True)
class Question:
    """A question with one number for an answer.

    Attributes
    ----------
    symbol : str
        Of the answer; later questions use it.
    asks, formula : str
    uses : tuple of str
        Symbols of given numbers and earlier answers, in the order `work` takes them.
    work : callable
        The student's way, SI.
    value : float
        What the program has, SI.
    unit : str
        An SI unit, from which the printed one follows, or "" and "%".
    remark : str
        What the key adds.
    written : float
        What rounding in the table adds to the tolerance, SI.
    """

    symbol: str
    asks: str
    formula: str
    uses: tuple[str, ...]
    work: Callable[..., float]
    value: float
    unit: str
    remark: str = ""
    written: float = 0.0


@dataclass(frozen=True, kw_only=True)
class KeyAnswer:
    """What the key says of a question.

    Attributes
    ----------
    question : Question
    unit : str
        As printed.
    tolerance : float
        SI.
    numbers : str
        The formula with the sheet's numbers in it.
    """

    question: Question
    unit: str
    tolerance: float
    numbers: str

    @property
    def value(self) -> float:
        """SI."""
        return self.question.value

    @property
    def printed(self) -> str:
        """Number and unit."""
        return f"{digits(self.value * scale(self.unit), DIGITS)} {self.unit}".rstrip()

    @property
    def within(self) -> str:
        """The tolerance as it is printed, never less than it is."""
        return f"± {upwards(self.tolerance * scale(self.unit))} {self.unit}".rstrip()

    @property
    def off(self) -> float:
        """As of :class:`Given`."""
        return self.tolerance


def answered(questions: tuple[Question, ...], given: Mapping[str, Given]) -> tuple[KeyAnswer, ...]:
    """Every question's answer with its tolerance, in their order."""
    known: dict[str, Given | KeyAnswer] = dict(given)
    out = []
    for q in questions:
        used = [known[name] for name in q.uses]
        unit = best_unit(q.value, q.unit)
        answer = KeyAnswer(question=q, unit=unit, numbers=_numbers(q, used),
                        tolerance=tolerance(q.work, used, q.value, unit) + q.written)
        out.append(answer)
        known[q.symbol] = answer
    return tuple(out)


def tolerance(work: Callable[..., float], used: list[Given | KeyAnswer], value: float, unit: str) -> float:
    """How far an answer may be off, SI."""
    corners = product(*([x.value - x.off, x.value + x.off] for x in used))
    return max(abs(work(*corner) - value) for corner in corners) + half_digit(value, unit)


def upwards(value: float) -> str:
    """A number with two digits, rounded up.

    >>> upwards(0.01234), upwards(3.0)
    ('0.013', '3.0')
    """
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return digits(math.ceil(round(value / step, 6)) * step, 2)


def _numbers(q: Question, used: list[Given | KeyAnswer]) -> str:
    """The formula's right side, each symbol replaced by what is printed of it."""
    shown = {name: x.printed for name, x in zip(q.uses, used, strict=True)}
    # the longest first: a symbol may begin with another
    pattern = "|".join(re.escape(name) for name in sorted(shown, key=len, reverse=True))

    def put(match: re.Match[str]) -> str:
        text = shown[match[1]]
        return f"({text})" if match[2] or "/" in text or text.startswith("−") else text

    side = q.formula.split("=", 1)[1].strip()
    return re.sub(rf"(?<!\w)({pattern})(?:(?=(²))|(?!\w))", put, side)
