"""A tolerance study from the plan to the files: closed forms, the surrogate against the program, and the command."""

from __future__ import annotations

import csv
import json
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow.parquet as pq
import pytest

from rigs.cases.envelope import result_of
from rigs.cases.scattered import NONE
from stringflux.cases.cli import main
from stringflux.cases.files.load import built_in_uses, find_case, load_case, read_toml
from stringflux.cases.studies.designs.evaluate import evaluate
from stringflux.cases.studies.designs.limits import read_limit
from stringflux.cases.studies.engine import engine
from stringflux.cases.studies.engine.task import Outcome, Task
from stringflux.cases.studies.tolerance import command as command_tolerance
from stringflux.cases.studies.tolerance.study import LEAST_CHECK, TolerancePlan, plan_of, quantity_names, study_of
from stringflux.cases.studies.tolerance.surrogate import designed_runs, fitted, plucked_causes, quantities_of
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.read import read_case

pytestmark = pytest.mark.slow

Printed = pytest.CaptureFixture[str]
SCATTER = NONE | {"remanence": 0.05, "coercivity": 0.1, "height": "0.1 mm", "gap": "0.2 mm", "turns": 0.01,
                  "wire": 0.04, "even": ["turns", "wire"]}


def document(scatter: dict[str, Any], **strings: Any) -> dict[str, Any]:
    made = read_toml(find_case("bench-single"))
    made["strings"].update(strings)
    return made | {"scatter": scatter}


def planned(scatter: dict[str, Any], check: int = 4, name: str = "bench-single") -> TolerancePlan:
    made = read_toml(find_case(name)) | {"scatter": scatter}
    return plan_of(read_case(made, materials=built_in_uses()), made, quality="draft", check=check, seed=0)


@cache
def computed() -> tuple[TolerancePlan, tuple[Outcome, ...]]:
    """The bench rig with one cause of each kind, computed by the program once for all tests."""
    plan = planned(SCATTER)
    return plan, tuple(evaluate(task) for task in plan.tasks)


def made_up(plan: TolerancePlan, strings: int, poles: int) -> list[Outcome]:
    """Outcomes of a program whose answers are exponentials of squares, so that the surrogate can be exact."""
    at = plan.causes.places()
    designs = [np.zeros(plan.causes.size), *(run.t for run in plan.runs), *plan.true]

    def square(t: Any, name: str, item: int, a: float, b: float) -> float:
        column = at.get((name, item))
        return 0.0 if column is None else a * t[column] + b * t[column] ** 2

    def of(number: int, t: Any) -> Outcome:
        values = {"resistance": 6e3 * np.exp(square(t, "turns", 0, 0.01, 0)), "inductance": 2.0, "balance": -1.0}
        for i in range(1, strings + 1):
            gap = t[at["gap", 0]] * 0.2 + t[at["gap_each", i]] * 0.1  # mm
            level = -0.3 * gap + 0.05 * gap**2 + 0.02 * t[at["coercivity_each", i]] + 0.01 * t[at["coercivity", 0]]
            values[f"string_{i}_sensitivity"] = 5e-3 * i * np.exp(level + 0.01 * t[at["turns", 0]])
            if "output" in plan.tasks[number].want:
                loud = 1.5 * (-0.3 * gap + 0.05 * gap**2) + 2 * 0.01 * t[at["coercivity", 0]]
                loud += 2 * 0.02 * t[at["coercivity_each", i]] + 0.01 * t[at["turns", 0]]
                values[f"string_{i}_output"] = 0.03 * i * np.exp(loud)
        for i in range(1, poles + 1):
            values[f"pole_{i}_face_field"] = (-1) ** i * 0.1
        return Outcome(number=number, values=values)

    return [of(n, t) for n, t in enumerate(designs)]


FOUR = NONE | {"gap": "0.2 mm", "gap_each": "0.1 mm", "coercivity": 0.1, "coercivity_each": 0.04, "turns": 0.01}


def test_a_surrogate_of_what_it_can_hold_is_exact() -> None:
    plan = planned(FOUR, name="bass-four")
    # the gap of each string is known from that of all: 2 runs each for coercivity, its four, gap, turns
    assert len(plan.runs) == 2 * (1 + 4 + 1 + 1)
    outcomes = made_up(plan, 4, 4)
    study = study_of(plan, outcomes, count=512, seed=0)
    names = set(study.scatter)
    assert {"output", "output_balance", "balance", "resistance", "string_4_sensitivity"} <= names
    # one product is left out, that of a string's own gap with that of all: 0.05 · 2 · 0.2 · 0.1 t t' of ln S
    for name in ("output", "sensitivity", "string_2_sensitivity"):
        assert study.scatter[name].relative_error < 0.02, name
    assert study.scatter["resistance"].relative_error < 1e-9
    assert study.scatter["inductance"].spread.deviation == pytest.approx(0.0, abs=1e-12)
    assert study.scatter["inductance"].relative_error == 0.0
    assert study.scatter["face_field"].nominal == pytest.approx(0.1)
    assert study.checked == 4


def test_the_runs_of_all_strings_serve_each_by_itself() -> None:
    plan = planned(FOUR, name="bass-four")
    outcomes = made_up(plan, 4, 4)
    names = [f"string_{i}_sensitivity" for i in range(1, 5)]
    base = np.array([outcomes[0].values[n] for n in names])
    model = fitted(plan.causes, plan.runs, names, base, [o.values for o in outcomes[1:1 + len(plan.runs)]])
    t = np.zeros(plan.causes.size)
    t[plan.causes.places()["gap_each", 3]] = -1.0
    expected = base.copy()
    expected[2] *= np.exp(0.3 * 0.1 + 0.05 * 0.01)
    np.testing.assert_allclose(model.responses(t[None])[0], expected, rtol=1e-12)


def test_output_is_computed_for_one_cause_of_each_family() -> None:
    plan = planned(FOUR, name="bass-four")
    assert set(plucked_causes(plan.causes)) == {"gap", "coercivity"}
    plucked = ["output" in task.want for task in plan.tasks]
    assert plucked[0]
    assert sum(plucked) == 1 + 2 * 2 + 4
    alone = planned(NONE | {"gap_each": "0.1 mm"}, name="bass-four")
    assert [run.columns for run in designed_runs(alone.causes)] == [(0, 1, 2, 3)] * 2  # all strings in one run


def test_variance_of_resistance_in_closed_form() -> None:
    """R = R₀ N/(1 + w)² with N even on 1 ± n and w even on ± w₀: E[N²] = 1 + n²/3, E[(1+w)⁻²] = 1/(1 − w₀²),
    E[(1+w)⁻⁴] = (3 + w₀²)/(3 (1 − w₀²)³)."""
    plan, outcomes = computed()
    study = study_of(plan, outcomes, count=8192, seed=0)
    n, w, found = 0.01, 0.04, study.scatter["resistance"]
    mean = 1 / (1 - w**2)
    variance = (1 + n**2 / 3) * (3 + w**2) / (3 * (1 - w**2) ** 3) - mean**2
    # the surrogate's quadratic in ln R leaves out (2/3) w³, 4e-5; a sample of 8192 has σ to 0.1 %
    assert found.spread.mean / found.nominal == pytest.approx(mean, abs=5e-5)
    assert found.spread.deviation / found.nominal == pytest.approx(np.sqrt(variance), rel=3e-3)
    assert found.importance is not None
    share = n**2 / 3 / (n**2 / 3 + 4 * w**2 / 3)  # of the turns, to first order
    assert found.importance.total["turns"][0] == pytest.approx(share, abs=0.003)
    assert found.importance.total["wire"][0] == pytest.approx(1 - share, abs=0.03)
    # L ∝ N², and a pole's height a little
    assert study.scatter["inductance"].spread.deviation / study.scatter["inductance"].nominal == pytest.approx(
        2 * n / np.sqrt(3), rel=0.02)


def test_the_surrogate_against_the_program() -> None:
    plan, outcomes = computed()
    assert [o.failure for o in outcomes] == [""] * len(outcomes)
    study = study_of(plan, outcomes, count=1024, seed=0)
    for name, scatter in study.scatter.items():
        assert scatter.relative_error < 0.1, name  # products of two deviations are all that is left out
        assert scatter.spread.low < scatter.nominal < scatter.spread.high
    face = study.scatter["face_field"].importance
    assert face is not None
    # the face field of alnico 5 follows its coercivity and hardly its remanence
    assert face.total["coercivity"][0] > 0.95
    assert face.total["remanence"][0] < 0.02
    output = study.scatter["output"].importance
    assert output is not None
    assert output.total["gap"][0] > 0.5


def test_strings_of_harder_steel_are_quieter() -> None:
    """And nothing else of the pickup is another; a pluck holds it back as much as S."""
    plan = planned(NONE | {"pinning": 0.5})
    assert plucked_causes(plan.causes) == ("pinning",)
    base, softer, harder, *checked = (evaluate(task).values for task in plan.tasks)
    for name in ("sensitivity", "output"):
        assert 1.005 < softer[name] / base[name] < 1.03
        assert 1.005 < base[name] / harder[name] < 1.03
    for name in ("inductance", "face_field", "resistance"):
        assert softer[name] == base[name] == harder[name]
    study = study_of(plan, [Outcome(number=n, values=v) for n, v in enumerate([base, softer, harder, *checked])],
                     count=256, seed=0)
    assert study.scatter["sensitivity"].relative_error < 0.1


def test_shares_inside_limits() -> None:
    plan, outcomes = computed()
    known = quantity_names(load_case("bench-single"))
    limits = [read_limit(text, known) for text in ("resistance = 859.48 ohm ± 4%", "output > 1 mV", "output<1 mV")]
    study = study_of(plan, outcomes, count=4096, seed=0, limits=limits)
    first, always, never = study.limits
    assert (always.sample.value, never.sample.value, always.true.count, never.true.count) == (1.0, 0.0, 4, 0)
    assert study.together is not None
    assert study.together.sample.value == 0.0
    sample = study.scatter["resistance"].sample
    assert first.sample.value == pytest.approx(np.mean(np.abs(sample / 859.48 - 1) <= 0.04))
    # w even on ± 4 %, R within ± 4 % for |w| < 2 %: half of them, turns blur the edges only
    assert first.sample.value == pytest.approx(0.5, abs=0.02)


def failed(outcomes: Sequence[Outcome], number: int) -> list[Outcome]:
    return [replace(o, values={}, failure="it cannot be") if o.number == number else o for o in outcomes]


def test_designs_that_cannot_be() -> None:
    plan = planned(FOUR, name="bass-four")
    outcomes = made_up(plan, 4, 4)
    study = study_of(plan, failed(outcomes, len(plan.tasks) - 1), count=256, seed=0)
    assert (study.checked, study.impossible) == (3, ("it cannot be",))
    with pytest.raises(CaseError, match=r"^it cannot be$"):
        study_of(plan, failed(outcomes, 0), count=256, seed=0)
    with pytest.raises(CaseError, match=r"^scatter, coercivity: -80% of its limit .* \(it cannot be\); write a"):
        study_of(plan, failed(outcomes, 1), count=256, seed=0)
    with pytest.raises(CaseError, match="every limit is 0"):
        planned(NONE)


def test_quantities_of_responses() -> None:
    names = ["string_1_sensitivity", "string_2_sensitivity", "resistance", "pole_1_face_field"]
    found = quantities_of(names, np.array([[1.0, 10.0, 5.0, 0.1]]))
    assert {k: float(v[0]) for k, v in found.items()} == {
        "sensitivity": 5.5, "balance": pytest.approx(20.0), "face_field": 0.1, "resistance": 5.0,
        "string_1_sensitivity": 1.0, "string_2_sensitivity": 10.0}


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A case file for the command, with an engine that has its designs already; the folder to write to."""
    plan, outcomes = computed()
    case = tmp_path / "mine.toml"
    lines = ", ".join(f"{k} = {json.dumps(v)}" for k, v in SCATTER.items())
    rig = find_case("bench-single").read_text(encoding="utf-8")
    case.write_text(f"scatter = {{ {lines} }}\n{rig}", encoding="utf-8")

    def ready(tasks: Sequence[Task], folder: Path, **options: Any) -> list[Outcome]:
        assert [t.document for t in tasks] == [t.document for t in plan.tasks]
        assert options["kind"] == "tolerance"
        folder.mkdir()
        return list(outcomes)

    monkeypatch.setattr(engine, "run_study", ready)
    monkeypatch.chdir(tmp_path)
    return case


def test_command_prints_and_writes(command: Path, capsys: Printed) -> None:
    said = ["tolerance", str(command), "--quality", "draft", "--check", "4", "--count", "256", "--limit",
            "resistance=860ohm±5%", "--limit", "output>25 mV"]
    assert main(said) == 0
    out = capsys.readouterr().out
    for words in ("What scatters", "the case file", "± 0.2 mm", "± 4 %, even", "Spread from pickup to pickup",
                  "Output, mean", "Which tolerance matters most", "diameter of the wire", "resistance=860ohm±5%",
                  "all of them", "4 of 4", "Inductance: what is unknown of magnets and steel",
                  "Results: mine-tolerance (", "No scatter of gap, each string: 0 in"):
        assert words in out, words
    folder = command.parent / "mine-tolerance"
    assert {p.name for p in folder.iterdir()} == {"table.csv", "table.parquet", "tolerance.json", "tolerance.png",
                                                  "tolerance.svg"}
    plan, outcomes = computed()
    rows = list(csv.reader((folder / "table.csv").read_text(encoding="utf-8").splitlines()))
    assert len(rows) == 1 + len(outcomes)
    columns = pq.read_table(folder / "table.parquet")
    assert columns.schema.field("gap").metadata[b"unit"] == b"m"
    gap = plan.causes.places()["gap", 0]
    np.testing.assert_allclose(columns["gap"].to_numpy()[-4:], 0.2e-3 * plan.true[:, gap])
    assert columns["resistance"][0].as_py() == outcomes[0].values["resistance"]


@pytest.mark.parametrize(("units", "factors"), [
    ("both", {"G": 10, "mT": 1}), ("si", {"mT": 1}), ("trade", {"G": 10})])
def test_flux_densities_stand_in_the_units_that_are_asked_for(
        command: Path, capsys: Printed, monkeypatch: pytest.MonkeyPatch, units: str, factors: dict[str, int]) -> None:
    """A line for each unit, what has none told once; the numbers are those of the document, in tesla."""
    monkeypatch.setenv("COLUMNS", "120")  # no name is broken
    said = ["tolerance", str(command), "--quality", "draft", "--check", "4", "--count", "256", "--units", units]
    assert main(said) == 0
    out = capsys.readouterr().out
    field = json.loads((command.parent / "mine-tolerance" / "tolerance.json").read_text(encoding="utf-8"))
    told = field["result"]["quantities"]["face_field"]
    assert out.count("Field over the faces") == 1
    lines = [line.removeprefix("Field over the faces").split() for line in out.splitlines()
             if line.startswith("Field over the faces") or line.split()[:1] == ["mT"]]
    assert [line[0] for line in lines] == list(factors)
    for i, (line, factor) in enumerate(zip(lines, factors.values(), strict=True)):
        assert len(line) == (6 if i else 9)  # with "3.4 %" and the surrogate's error once
        cells = line[1:] if i else [*line[1:4], *line[6:8]]
        for cell, name in zip(cells, ("nominal", "mean", "deviation", "low_5", "high_95"), strict=True):
            assert float(cell) == pytest.approx(1e3 * factor * told[name], rel=6e-3)


def test_command_as_json(command: Path, capsys: Printed) -> None:
    options = ["--quality", "draft", "--check", "4", "--count", "256", "--json", "--limit", "output>1 mV"]
    assert main(["tolerance", str(command), *options]) == 0
    found = result_of(capsys.readouterr().out, "tolerance")
    assert found["limits"][0] | {"low": 0, "high": 0} == {
        "limit": "output>1 mV", "share": 1.0, "low": 0, "high": 0, "computed_inside": 4, "computed": 4}
    resistance = found["quantities"]["resistance"]
    assert resistance["unit"] == "ohm"
    assert resistance["low_5"] < resistance["nominal"] < resistance["high_95"]
    assert set(resistance["total"]) == {c["name"] for c in found["causes"]}
    assert {c["name"]: c["distribution"] for c in found["causes"]}["wire"] == "even"


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--check", "2"], "--check: received 2; write a whole number from 4"),
        (["--count", "10"], "--count: received 10; write a whole number from 256"),
        (["--seed", "-1"], "--seed: received -1"),
        (["--quality", "best"], '--quality: received "best"'),
        (["--limit", "loudness>3 mV"], 'this study gives no "loudness"'),
        (["--limit", "balance<1 dB"], 'this study gives no "balance"'),  # of a single string
        (["--set", "scatter.gap=4 mm"], "scatter, gap: received"),
    ],
)
def test_command_refuses_before_it_computes(options: list[str], said: str, capsys: Printed) -> None:
    assert main(["tolerance", "bench-single", *options]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1


def test_without_a_bridge_there_is_no_output() -> None:
    made = read_toml(find_case("bench-single"))
    del made["strings"]["bridge_distance"]
    case = read_case(made, materials=built_in_uses())
    assert "output" not in quantity_names(case)
    assert "output" in quantity_names(load_case("bench-single"))
    assert command_tolerance.ToleranceOptions(which="bench-single").check == 16


def test_help_says_the_least_check(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["tolerance", "--help"]) == 0
    assert f"{LEAST_CHECK} or more" in capsys.readouterr().out
    assert main(["tolerance", "bench-single", "--check", str(LEAST_CHECK - 1)]) == 2
    assert f"whole number from {LEAST_CHECK} to" in capsys.readouterr().err
