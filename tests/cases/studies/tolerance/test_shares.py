"""What is unknown of the materials moves a whole sample: shares of it inside limits, and figures at both ends."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.cases import load_case
from stringflux.cases.files.load import find_case, read_toml
from stringflux.cases.solved.solve import solved_case
from stringflux.cases.studies.designs.evaluate import evaluate
from stringflux.cases.studies.designs.limits import read_limit
from stringflux.cases.studies.engine.task import Task
from stringflux.cases.studies.tolerance.shares import DOUBT, doubts_of, kept

pytestmark = pytest.mark.usefixtures("shared_solutions")

KNOWN = ("inductance", "output")
SAMPLE = {"inductance": np.linspace(0.9, 1.1, 201), "output": np.ones(201)}  # H, V


def test_shares_at_both_ends() -> None:
    """L even on 0.9 to 1.1 H, and 5 % less or 10 % more than that."""
    limits = [read_limit(text, KNOWN) for text in ("inductance=1H±5%", "output>0.5 V")]
    doubts = {"inductance": (0.95, 1.10)}
    henry, volt = (kept("", [x], SAMPLE, SAMPLE, doubts) for x in limits)
    assert henry.sample.value == pytest.approx(0.5, abs=0.01)
    # 0.95 L in 0.95 to 1.05: L from 1 to 1.105; 1.1 L: from 0.864 to 0.9545
    assert henry.ends == pytest.approx((0.5, 0.27), abs=0.01)
    assert volt.ends is None
    assert kept("all", limits, SAMPLE, SAMPLE, doubts).ends == henry.ends
    assert kept("", limits[:1], SAMPLE, SAMPLE, {}).ends is None


def test_doubt_of_a_design() -> None:
    solved = solved_case(load_case("bench-single"), "draft")
    ends = [abs(end.inductance) / abs(solved.solution().inductance) for end in solved.signal_ends()]
    task = Task(number=0, document=read_toml(find_case("bench-single")), quality="draft", want=("inductance", *DOUBT))
    assert doubts_of(evaluate(task).values)["inductance"] == pytest.approx((min(ends), max(ends)), rel=1e-9)
    assert doubts_of({"inductance": 1.0}) == doubts_of(dict.fromkeys(("inductance", *DOUBT), 1.0)) == {}


def test_builds_need_no_strings_for_it() -> None:
    solved = solved_case(load_case("stacked-six"), "draft")
    whole = [abs(end.inductance) for end in solved.signal_ends()]
    assert solved.signal_inductances() == pytest.approx(whole, rel=1e-6)
    assert whole[0] < solved.inductance() < whole[1]
