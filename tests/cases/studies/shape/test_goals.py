"""The goals of a shape: S on the curve puts tips in the order that S with the steel's memory puts them in."""

from __future__ import annotations

from itertools import combinations

import pytest

from stringflux.cases import load_case, solve

TIPS = (
    {"shape": "flat"},
    {"shape": "domed", "rise": "0.3 mm"},
    {"shape": "domed", "rise": "1 mm"},
    {"shape": "bevelled", "depth": "0.4 mm", "width": "0.4 mm"},
    {"shape": "bevelled", "depth": "1 mm", "width": "1.5 mm"},
    {"shape": "cupped", "depth": "0.5 mm"},
)
TOLD_APART = 0.005  # of S: nearer ones may change places


@pytest.mark.slow
def test_the_curve_ranks_as_the_memory_does() -> None:
    found = []
    for tip in TIPS:
        pickup = solve(load_case("bench-single", {"pole.1.part.1.tip": tip}), quality="draft")
        string = pickup.prediction(maps=False).strings[0]
        found.append((string.sensitivity_curve, string.sensitivity))
    pairs = 0
    for one, other in combinations(found, 2):
        by_curve, by_memory = (a / b - 1 for a, b in zip(one, other, strict=True))
        if abs(by_curve) > TOLD_APART:
            assert by_curve * by_memory > 0
            pairs += 1
    assert pairs > 8
