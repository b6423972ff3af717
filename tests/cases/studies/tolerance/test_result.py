"""What a tolerance study draws is what it found."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.cases.drawn import drawn, line_of
from rigs.cases.scattered import NONE
from stringflux.cases.files.load import built_in_uses, find_case, read_toml
from stringflux.cases.studies.designs.limits import read_limit
from stringflux.cases.studies.engine.task import Outcome
from stringflux.cases.studies.tolerance.result import ToleranceStudy
from stringflux.cases.studies.tolerance.study import plan_of, quantity_names, study_of
from stringflux.geometry.errors import InputError
from stringflux.geometry.reading.read import read_case


@pytest.fixture(scope="module")
def found() -> ToleranceStudy:
    """A pickup whose turns and wire scatter, by closed formulas."""
    made = read_toml(find_case("bench-single")) | {"scatter": NONE | {"turns": 0.01, "wire": 0.04}}
    case = read_case(made, materials=built_in_uses())
    plan = plan_of(case, made, quality="draft", check=4, seed=0)
    outcomes = []
    for i, t in enumerate([np.zeros(plan.causes.size), *(run.t for run in plan.runs), *plan.true]):
        turns, wire = (t[plan.causes.places()[name, 0]] for name in ("turns", "wire"))
        outcomes.append(Outcome(number=i, values={
            "resistance": 6e3 * np.exp(0.01 * turns - 0.08 * wire), "inductance": 2.0 * np.exp(0.02 * turns),
            "string_1_sensitivity": 0.06 * np.exp(0.01 * turns), "string_1_output": 0.03 * np.exp(0.01 * turns),
            "pole_1_face_field": 0.1}))
    limit = read_limit("resistance = 6 kohm ± 5%", quantity_names(case))
    return study_of(plan, outcomes, count=1024, seed=0, limits=[limit])


def test_spread(found: ToleranceStudy) -> None:
    ax, s = drawn(found, "spread", quantity="resistance"), found.scatter["resistance"]
    assert ax.get_xlabel() == "kΩ"
    assert ax.get_title(loc="left") == "Resistance"
    assert line_of(ax, 0)[0] == pytest.approx([1e-3 * s.spread.low, 1e-3 * s.spread.high])
    assert line_of(ax, 1)[0] == pytest.approx([1e-3 * s.nominal] * 2)
    assert [line_of(ax, i)[0][0] for i in (2, 3)] == pytest.approx([5.7, 6.3])  # the limits
    assert drawn(found, "spread", quantity="string_1_sensitivity").get_title(loc="left") == "Sensitivity, string 1"
    assert drawn(found, "spread").get_title(loc="left") == "Output, mean"


def test_causes(found: ToleranceStudy) -> None:
    ax, importance = drawn(found, "causes", quantity="resistance"), found.scatter["resistance"].importance
    assert importance is not None
    assert ax.get_xlabel() == "share of the variance, with 95 % interval"
    widths = [bar.get_width() for bar in ax.patches]  # type: ignore[attr-defined]
    order = ["wire", "turns"]
    assert widths == pytest.approx([importance.total[c][0] for c in order] + [importance.first[c][0] for c in order])
    with pytest.raises(InputError, match="but of single strings they are not told apart"):
        found.plot(what="causes", quantity="string_1_sensitivity")


def test_what_there_is_not(found: ToleranceStudy) -> None:
    with pytest.raises(InputError, match='quantity: received "loudness"; write '):
        found.plot(quantity="loudness")
    with pytest.raises(InputError, match='what: received "nought"; write spread, causes'):
        found.plot(what="nought")


def test_the_figure_has_a_row_for_each_main_quantity(found: ToleranceStudy) -> None:
    fig = found.figures()["tolerance"]
    fig.draw_without_rendering()
    assert [ax.get_title(loc="left") for ax in fig.axes[::2]] == [
        drawn(found, "spread", quantity=name).get_title(loc="left") for name in found.main]
    assert "sensitivity" not in found.main
