"""Indices of importance, spreads, shares and limits, on what is known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import norm

from stringflux.cases.studies.designs.limits import read_limit
from stringflux.cases.studies.tolerance.statistics import importance_of, share_of, sobol_sample, spread_of
from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError


def ishigami(u: Array) -> Array:
    """sin x₁ + 7 sin² x₂ + 0.1 x₃⁴ sin x₁ with x even on (−π, π) (Ishigami & Homma 1990), and a copy times 1000."""
    x = np.pi * (2 * u - 1)
    y = np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])
    return np.stack([y, 1e6 + 1000 * y], axis=1)


def test_indices_of_the_ishigami_function() -> None:
    found = importance_of(ishigami, {"1": [0], "2": [1], "3": [2]}, count=8192, seed=1)
    first, total = {"1": 0.3139, "2": 0.4424, "3": 0.0}, {"1": 0.5576, "2": 0.4424, "3": 0.2437}
    for quantity in found:
        for name, exact in first.items():
            # two standard errors of a random sample of 8192, as its bootstrap has them
            assert quantity.first[name][0] == pytest.approx(exact, abs=0.02)
            assert quantity.total[name][0] == pytest.approx(total[name], abs=0.02)
            for index in (quantity.first[name], quantity.total[name]):
                assert index[1] < index[0] < index[2]
                assert index[2] - index[1] < 0.08
            assert quantity.first[name][1] < exact < quantity.first[name][2]
            assert quantity.total[name][1] < total[name] < quantity.total[name][2]


def test_a_group_has_the_index_of_its_members_together() -> None:
    """Of the Ishigami function without number 2 all is left: S₁ + S₃ + S₁₃ = 1 − S₂."""
    (found, _) = importance_of(ishigami, {"odd": [0, 2], "2": [1]}, count=4096, seed=2)
    assert found.first["odd"][0] == pytest.approx(0.5576, abs=0.015)
    assert found.total["odd"][0] == pytest.approx(0.5576, abs=0.015)


def test_a_single_cause_has_it_all() -> None:
    (alone,) = importance_of(np.exp, {"a": [0]}, count=256, seed=1)
    assert alone.total["a"][0] == pytest.approx(1.0, abs=0.02)


def test_what_nothing_moves_has_no_causes() -> None:
    (found,) = importance_of(lambda u: np.full((len(u), 1), 5.0), {"a": [0], "b": [1]}, count=64, seed=1)
    assert found.first == found.total == {"a": (0.0, 0.0, 0.0), "b": (0.0, 0.0, 0.0)}


def test_sample_is_even_inside_and_the_same_again() -> None:
    u = sobol_sample(300, 40, seed=3)  # no power of two: the first part of 512
    assert u.shape == (300, 40)
    assert 0 < u.min() < u.max() < 1
    assert np.abs(u.mean(axis=0) - 0.5).max() < 0.02  # 300 random ones would be off by 0.05 in one of 40
    np.testing.assert_array_equal(u, sobol_sample(300, 40, seed=3))
    assert (u != sobol_sample(300, 40, seed=4)).any()


def test_spread_of_a_normal() -> None:
    s = spread_of(norm.ppf(sobol_sample(4096, 1, seed=1)[:, 0], 10.0, 2.0))
    # a low-discrepancy sample of this size has its quantiles to 1/4096
    assert (s.mean, s.deviation) == (pytest.approx(10.0, abs=2e-3), pytest.approx(2.0, rel=2e-3))
    assert (s.low, s.high) == (pytest.approx(10 - 2 * 1.64485, abs=0.01), pytest.approx(10 + 2 * 1.64485, abs=0.01))


def test_share_inside_limits_of_a_known_distribution() -> None:
    values = norm.ppf(sobol_sample(4096, 1, seed=2)[:, 0], 6200.0, 155.0)
    limit = read_limit("resistance = 6.2kohm ± 5 %", ["resistance"])  # two standard deviations
    share = share_of(limit.keeps({"resistance": values}))
    assert share.value == pytest.approx(0.9545, abs=2e-3)
    assert share.low < 0.9545 < share.high


def test_interval_of_a_share_is_the_exact_one() -> None:
    """Clopper & Pearson 1934: none of n keeps it → the upper end is 1 − 0.025^(1/n)."""
    share = share_of(np.zeros(20, dtype=bool))
    assert (share.count, share.of, share.low) == (0, 20, 0.0)
    assert share.high == pytest.approx(1 - 0.025 ** (1 / 20), rel=1e-9)
    nothing = share_of(np.zeros(0, dtype=bool))
    assert math.isnan(nothing.value)
    assert (nothing.low, nothing.high) == (0.0, 1.0)


KNOWN = ["output", "balance", "resistance", "inductance", "face_field", "sensitivity", "string_2_sensitivity"]


@pytest.mark.parametrize(
    ("text", "name", "low", "high"),
    [
        ("balance<1 dB", "balance", -math.inf, 1.0),
        ("Balance <= 1dB", "balance", -math.inf, 1.0),
        ("output > 30 mV", "output", 0.03, math.inf),
        ("resistance=6.2kohm±5%", "resistance", 5890.0, 6510.0),
        ("resistance=6.2 kohm +- 300 ohm", "resistance", 5900.0, 6500.0),
        ("inductance=2.8±0.2 H", "inductance", 2.6, 3.0),
        ("face_field = 900 G .. 1100 G", "face_field", 0.09, 0.11),
        ("resistance=5.8..6.5 kohm", "resistance", 5800.0, 6500.0),
        ("string 2 sensitivity > 8 mV s/m", "string_2_sensitivity", 8e-3, math.inf),
    ],
)
def test_limits_as_they_are_typed(text: str, name: str, low: float, high: float) -> None:
    limit = read_limit(text, KNOWN)
    assert (limit.name, limit.text) == (name, text)
    assert (limit.low, limit.high) == (pytest.approx(low), pytest.approx(high))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "write for example"),
        ("resistance", "write for example"),
        ("resistance=6.2 kohm", "write for example"),
        ("resistence<6 kohm", 'did you mean "resistance"?'),
        ("weight<1 g", 'gives no "weight"; it gives output, balance'),
        ("resistance<6", "has no unit"),
        ("resistance<6 H", "which is not a resistance"),
        ("balance<1", 'write the value in dB, for example "1 dB"'),
        ("balance<1 mV", "write the value in dB"),
        ("resistance=6.5..5.8 kohm", "the smaller value first"),
        ("resistance=6 kohm±0%", "more than 0 after ±"),
        ("resistance=6 kohm±1±2", "write for example"),
    ],
)
def test_limits_that_cannot_be_read(text: str, said: str) -> None:
    with pytest.raises(CaseError) as error:
        read_limit(text, KNOWN)
    assert said in str(error.value)
    assert str(error.value).startswith("--limit")
