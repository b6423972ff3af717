"""The report of a build and turns for one of its coils: one draft 3-D solution of two stacked coils for all."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest

from stringflux.cases.files.load import load_case
from stringflux.cases.jobs.wind import WoundCoils, solved_coils
from stringflux.cases.papers.report import CaseText, findings
from stringflux.cases.solved.solve import solved_case
from stringflux.cases.solved.windings import coil_windings
from stringflux.cases.solving import solve
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.postprocess.report.chapters import report_of
from stringflux.postprocess.report.findings import Findings
from stringflux.postprocess.report.page import render
from stringflux.postprocess.report.pictures import pictures_at_rest
from stringflux.postprocess.report.summary import key_figures, summary
from stringflux.postprocess.report.trust import assumed, trust_table

pytestmark = pytest.mark.usefixtures("shared_solutions")


@pytest.fixture(scope="module")
def case() -> Case:
    return load_case("stacked-six")


@pytest.fixture(scope="module")
def found(case: Case) -> Findings:
    return findings(solve(case, quality="draft"), CaseText(name="stacked-six", text=""))


def test_page_has_the_build_and_nothing_of_the_row(found: Findings) -> None:
    drawn = pictures_at_rest(found)
    assert {"slice", "drawing", "fields", "impedance"} <= drawn.keys()
    report = report_of(found, drawn)
    page = render(report, datetime(2026, 3, 9))
    captions = [part.caption for section in report.sections for part in section.parts if part.kind == "table"]
    for caption in ("Coils, in series", "How the coils are coupled", "Hum of the coils together", "Winding of lower",
                    "Coil upper", "Coil lower", "Connection of the coils"):
        assert caption in captions
    assert "3-D, as it has 2 coils" in page
    for row_only in ("Rounds of coupling", "inside one coil", "One coil alone", "not counted</td>"):
        assert row_only not in page.replace("holes in sheets are not counted", "")


def test_words_of_the_coils_together(found: Findings) -> None:
    text = summary(found)
    assert text.startswith("Six strings over six poles, with two coils in series: upper with 5200 turns of 43 AWG "
                           "and lower with 5200 turns of 43 AWG.")
    assert found.build is not None
    assert found.resistance[1] == pytest.approx(sum(w.resistance for w in found.windings))
    assert found.resistance[0] < found.resistance[1] < found.resistance[2]
    figures = {f.name: f.value for f in key_figures(found)}
    assert figures["DC resistance"].startswith(f"{found.resistance[1] / 1e3:.3g}"[:3])
    # wound against each other on the same rods: the residue is the difference of the two, well under either
    assert found.build.residue is not None
    assert found.build.residue.level < -10


def test_trust_is_that_of_the_3d_solver(found: Findings) -> None:
    told = " ".join(cell for column in trust_table(found).columns for cell in column.cells)
    assert "independent 3-D code" in told
    assert "six rods" not in told
    assert "one line inside one coil" not in " ".join(text for _, text in assumed(found).items)


def test_turns_of_one_coil_give_the_wanted_inductance(case: Case) -> None:
    coils = solved_coils(case, coil_windings(case), "draft")
    solved = solved_case(case, "draft").solution()
    assert coils.inductance_with(1, 5200) == pytest.approx(abs(solved.inductance), rel=1e-12)
    turns = coils.turns_for("inductance", 2.0, 1)
    changed = load_case("stacked-six", {"second_coil.1.coil.turns": turns})
    assert abs(solved_case(changed, "draft").solution().inductance) == pytest.approx(2.0, rel=1e-6)


def test_resistances_by_connection(case: Case) -> None:
    made = coil_windings(case)
    both = [w.resistance for w in made]
    for how, at_terminals in (("series", sum(both)), ("parallel", 1 / sum(1 / r for r in both)), ("lower", both[1])):
        wired = load_case("stacked-six", {"connection.coils": how})
        coils = WoundCoils(case=wired, windings=made)
        assert coils.resistance(0, 5200) == pytest.approx(at_terminals)
    turns = WoundCoils(case=case, windings=made).turns_for("resistance", sum(both) + both[1] * 0.1, 1)
    assert turns == pytest.approx(1.1 * 5200)


@pytest.mark.parametrize(("changes", "name", "value", "said"), [
    ({}, None, 1e4, "--for: this case has the coils upper, lower; add --coil"),
    ({}, "middle", 1e4, '--coil: received "middle"; write upper or lower'),
    ({"connection.coils": "upper"}, "lower", 1e4, '--coil: received "lower", which is not connected'),
    ({}, "lower", 1e3, "--for: received 1 kΩ, which no number of turns on lower gives"),
])
def test_refusals_are_one_sentence(changes: dict[str, str], name: str | None, value: float, said: str) -> None:
    case = load_case("stacked-six", changes)
    coils = WoundCoils(case=case, windings=coil_windings(case))
    with pytest.raises(CaseError) as caught:
        coils.turns_for("resistance", value, coils.coil(name))
    assert said in str(caught.value)
    assert np.isfinite(value)
