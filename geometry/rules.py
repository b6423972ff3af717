"""Rules that the numbers of a record keep, and the sentence for one that does not.

    check(self, orders=whole(1), tolerance=between(0.0, 1.0))
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from .errors import InputError
from .units import shown


@dataclass(frozen=True, kw_only=True)
class Rule:
    """What a value has to be: in words, after "write", and as a question."""

    words: str
    holds: Callable[[object], bool]


def check(record: object, **rules: Rule) -> None:
    """Hold attributes of a record to their rules.

    Raises
    ------
    InputError
        For the first that breaks its own: record and attribute, what was received, what would do.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> check(SimpleNamespace(orders=0), orders=whole(1))
    Traceback (most recent call last):
    stringflux.geometry.errors.InputError: SimpleNamespace, orders: received 0; write a whole number from 1 on
    """
    for name, rule in rules.items():
        value = getattr(record, name)
        if not rule.holds(value):
            raise InputError(f"{type(record).__name__}, {name}: received {_shown(value)}; write {rule.words}")


def whole(least: int, most: int | None = None) -> Rule:
    """A whole number."""
    return Rule(words=f"a whole number from {least} {'on' if most is None else f'to {most}'}",
                holds=lambda v: _is_whole(v) and least <= v and (most is None or v <= most))  # type: ignore[operator]


def even(least: int) -> Rule:
    """An even whole number."""
    return Rule(words=f"an even number from {least} on",
                holds=lambda v: _is_whole(v) and v >= least and v % 2 == 0)  # type: ignore[operator]


def above(low: float, unit: str = "") -> Rule:
    """A finite number above `low`."""
    return Rule(words=f"a number above {low:g}{_after(unit)}",
                holds=lambda v: _is_number(v) and low < v < math.inf)  # type: ignore[operator]


def between(low: float, high: float) -> Rule:
    """A number above `low`, up to `high`."""
    return Rule(words=f"a number above {low:g} and up to {high:g}",
                holds=lambda v: _is_number(v) and low < v <= high)  # type: ignore[operator]


def rising(count: int, high: float = math.inf, unit: str = "") -> Rule:
    """A tuple of at least `count` numbers above 0, each above the one before, up to `high`."""
    end = "" if high == math.inf else f" up to {high:g}{_after(unit)}"
    return Rule(words=f"a tuple of {count} or more numbers above 0, each above the one before{end}",
                holds=lambda v: (isinstance(v, tuple) and len(v) >= count and all(map(_is_number, v))
                                 and v[0] > 0 and v[-1] <= high and v[-1] < math.inf
                                 and all(a < b for a, b in pairwise(v))))


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _after(unit: str) -> str:
    return f" {unit}" if unit else ""


def _shown(value: object) -> str:
    return f"({', '.join(map(str, value))})" if isinstance(value, tuple) else shown(value)
