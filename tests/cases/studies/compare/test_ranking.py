"""`stringflux compare`: what comes out against what is known outside, and the ranking."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from stringflux.cases.files.load import load_case
from stringflux.cases.studies.compare.command import CompareOptions, comparison
from stringflux.cases.studies.compare.ranking import best_trade_offs, ranked, read_ranks, wanted
from stringflux.cases.studies.designs.evaluate import evaluate
from stringflux.cases.studies.designs.outputs import FIGURES
from stringflux.cases.studies.engine.task import Outcome
from stringflux.geometry.errors import CaseError


def computed(*vary: str, want: str, paired: bool = False) -> list[dict[str, float]]:
    """Figures of the bench rig's designs, computed here and now."""
    asked = comparison(CompareOptions(which="bench-single", vary=vary, paired=paired, quality="draft"))
    outcomes = [evaluate(replace(task, want=tuple(want.split(",")))) for task in asked.tasks]
    assert [o.failure for o in outcomes] == [""] * len(outcomes)
    return [dict(o.values) for o in outcomes]


def test_magnets_stand_in_the_order_of_makers_tables() -> None:
    """Each of these has more coercivity and more energy product than the one before (MMPA 0100-00, from memory)."""
    grades = "alnico-3,alnico-2,alnico-5,alnico-5-7,alnico-9"
    fields = [v["face_field"] for v in computed(f"pole.part.material={grades}", want="face_field")]
    # one grade of scatter (5 %) would not turn the order of two that are further apart; these are
    assert all(b > 1.05 * a for a, b in pairwise(fields)), fields


def test_output_falls_with_the_gap_at_the_rate_that_is_told() -> None:
    gaps = np.linspace(1.5e-3, 3e-3, 4)
    rows = computed("strings.gap=1.5mm:3mm:4", want="sensitivity,gap_slope,output")
    for name in ("sensitivity", "output"):
        values = [row[name] for row in rows]
        assert all(b < 0.95 * a for a, b in pairwise(values)), name
    # the told slope, integrated by the trapezoidal rule, gives the levels back; the rule's own error is under 0.1 dB
    level = 20 * np.log10([row["sensitivity"] for row in rows])
    slope = np.array([row["gap_slope"] for row in rows])
    steps = np.diff(gaps) * (slope[:-1] + slope[1:]) / 2
    assert np.abs(np.diff(level) - steps).max() < 0.1


def test_plain_strings_count_by_their_area() -> None:
    """Output goes as the cross-section (J. Audio Eng. Soc. 65(9), 2017): diameter to the power of 2.

    At equal height of the axis, for the thicker of two over one gap lies higher. The bounds allow for saturation.
    """
    inches = (0.009, 0.011, 0.013, 0.017)
    gauges = ",".join(f"{d} in" for d in inches)
    heights = ",".join(f"{2.7 - 12.7 * d:.6g} mm" for d in inches)
    rows = computed(f"string.gauge={gauges}", f"strings.gap={heights}", paired=True, want="sensitivity")
    exponent = np.polyfit(np.log(inches), np.log([row["sensitivity"] for row in rows]), 1)[0]
    assert 1.83 <= exponent <= 2.05


def made(*rows: tuple[float, float] | None) -> list[Outcome]:
    """Outcomes with an output and a pull; None for a failed one."""
    return [Outcome(number=i, failure="no" if row is None else "",
                    values={} if row is None else {"output": row[0], "pull": row[1]}) for i, row in enumerate(rows)]


def test_ranking() -> None:
    case = load_case("bench-single")
    outcomes = made((2.0, 5.0), (3.0, 9.0), None, (2.0, 4.0), (math.nan, 1.0), (1.0, 4.5))
    ranks = read_ranks(["output,pull"], case)
    assert [(r.column, r.better) for r in ranks] == [("output", "more"), ("pull", "less")]
    assert ranked(outcomes, ranks) == [1, 3, 0, 5, 4]
    assert best_trade_offs(outcomes, ranks) == {1, 3}
    assert ranked(outcomes, read_ranks(["output:less"], case)) == [5, 0, 3, 1, 4]
    assert [r.column for r in read_ranks([], load_case("baritone-six"))] == ["sensitivity", "balance"]
    assert read_ranks(["inductance"], case)[0].better == "less"  # no way is better for all; then less comes first


def test_of_equal_designs_all_are_best() -> None:
    ranks = read_ranks(["output", "pull"], load_case("bench-single"))
    assert best_trade_offs(made((1.0, 1.0), (1.0, 1.0 + 1e-13), (1.0, 2.0)), ranks) == {0, 1}


def test_another_ranking_of_the_same_figures_is_the_same_study() -> None:
    case = load_case("bench-single")
    assert wanted(read_ranks(["output,pull"], case)) == wanted(read_ranks(["pull"], case), ["output"])
    assert set(wanted(read_ranks(["string_1_pull"], case))) > {"pull", "sensitivity"}


@pytest.mark.parametrize(
    ("rank", "words"),
    [
        ("outputt", "did you mean output"),
        ("", "write FIGURE"),
        ("output:most", "write FIGURE, FIGURE:more or FIGURE:less"),
        ("output,output", "twice"),
        ("string_2_output", "the case has 1 strings"),
        ("string_1_inductance", "which there is not"),
    ],
)
def test_rankings_that_are_none(rank: str, words: str) -> None:
    with pytest.raises(CaseError) as refused:
        read_ranks([rank], load_case("bench-single"))
    assert words in str(refused.value)
    assert str(refused.value).startswith("--rank: ")


def test_every_figure_can_be_ranked_by() -> None:
    assert [r.column for r in read_ranks([",".join(FIGURES)], load_case("bench-single"))] == list(FIGURES)
