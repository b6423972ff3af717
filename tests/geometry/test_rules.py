"""Rules of records: what holds, what does not, and the sentence."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pytest

from stringflux.geometry.errors import InputError
from stringflux.geometry.rules import Rule, above, between, check, even, rising, whole


@pytest.mark.parametrize(("rule", "good", "bad"), [
    (whole(2), (2, 7), (1, 2.0, True, "2", None)),
    (whole(1, 3), (1, 3), (0, 4)),
    (even(4), (4, 6), (2, 5, 4.0)),
    (above(0.5), (1, 0.6), (0.5, math.nan, math.inf, "1", True)),
    (between(0.0, 1.0), (0.1, 1), (0.0, 1.1, math.nan)),
    (rising(2, 9.0), ((1, 2.0), (1.0, 3.0, 9.0)), ((1.0,), (2.0, 1.0), (1.0, 1.0), (0.0, 1.0), (1.0, 9.1),
                                                   [1.0, 2.0], (1.0, math.nan), (1.0, "2"))),
    (rising(1), ((1.0,),), ((math.inf,), ())),
])
def test_what_a_rule_holds(rule: Rule, good: tuple[object, ...], bad: tuple[object, ...]) -> None:
    assert all(rule.holds(value) for value in good)
    assert not any(rule.holds(value) for value in bad)


def test_the_sentence_says_where_what_and_what_would_do() -> None:
    @dataclass(frozen=True)
    class Sizes:
        band: tuple[float, ...]

    with pytest.raises(InputError) as caught:
        check(Sizes((2.0, 1.0)), band=rising(2, 9.0, "Hz"))
    assert str(caught.value) == ("Sizes, band: received (2.0, 1.0); write a tuple of 2 or more numbers above 0, each "
                                 "above the one before up to 9 Hz")
