"""Tolerance of builds: what scatters in them, the case file of one pickup, closed forms, the surrogate, refusals."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rigs.cases.envelope import result_of
from rigs.cases.scattered import NONE, one, read
from rigs.cases.small_build import document
from rigs.cases.strings_at_rest import string_places, undersides
from stringflux.cases.cli import main
from stringflux.cases.files.load import find_case, load_case, read_toml, shipped_cases
from stringflux.cases.kept.store import memory
from stringflux.cases.output.document import CaseSource
from stringflux.cases.solved.windings import coil_windings
from stringflux.cases.studies.designs.effort import effort, solid_part
from stringflux.cases.studies.designs.evaluate import evaluate
from stringflux.cases.studies.engine import engine
from stringflux.cases.studies.engine.task import Outcome, Task
from stringflux.cases.studies.tolerance.causes import causes_of
from stringflux.cases.studies.tolerance.deviated import deviated
from stringflux.cases.studies.tolerance.output import tolerance_document
from stringflux.cases.studies.tolerance.statistics import sobol_sample
from stringflux.cases.studies.tolerance.study import TolerancePlan, plan_of, quantity_names, study_of, wanted
from stringflux.cases.studies.tolerance.surrogate import response_names, responses_of
from stringflux.geometry.case.model import Case

pytestmark = pytest.mark.slow

FULL = str(Path(__file__).parents[3] / "full_build.toml")
BUILDS = [name for name in shipped_cases() if not load_case(name).is_plain_row]
SCATTER = NONE | {"coercivity": 0.1, "coercivity_each": 0.04, "height": "0.1 mm", "gap": "0.2 mm",
                  "gap_each": "0.1 mm", "position": "0.3 mm", "turns": 0.01, "wire": 0.04, "even": ["turns", "wire"]}
CHECK = 4
Printed = pytest.CaptureFixture[str]


def scattering(name: str, **scatter: Any) -> tuple[Case, dict[str, Any]]:
    """A case in which only this scatters."""
    made = read_toml(find_case(name)) | {"scatter": NONE | scatter}
    return read(made), made


def small() -> dict[str, Any]:
    """Two rods in two stacked coils: two planes of symmetry."""
    made = document() | {"scatter": SCATTER}
    del made["body"]
    return made


@cache
def computed() -> tuple[TolerancePlan, tuple[Outcome, ...]]:
    """The small build, computed once for all tests."""
    made = small()
    plan = plan_of(read(made), made, quality="draft", check=CHECK, seed=0)
    order, keep = sorted(plan.tasks, key=solid_part), memory()  # one solution after the other, as a study does it
    found = {task.number: evaluate(task, keep) for task in order}
    return plan, tuple(found[task.number] for task in plan.tasks)


def test_all_shipped_builds_are_there() -> None:
    assert {"side-by-side-six", "stacked-six", "blade-six", "bar-screws-six"} <= set(BUILDS)


@pytest.mark.parametrize("name", [*BUILDS, FULL])
def test_without_deviations_it_is_the_case_itself(name: str) -> None:
    case, content = load_case(name), read_toml(find_case(name))
    causes = causes_of(case)
    made = read(deviated(case, content, causes, np.zeros(causes.size)))
    assert made.solid_bodies() == case.solid_bodies()
    assert made.racetracks() == case.racetracks()
    assert made.connection == case.connection
    np.testing.assert_allclose(undersides(made), undersides(case), rtol=0, atol=1e-11)
    np.testing.assert_allclose(string_places(made), string_places(case), rtol=0, atol=1e-11)
    for one_coil, other in zip(coil_windings(made), coil_windings(case), strict=True):
        assert one_coil.resistance == pytest.approx(other.resistance, rel=1e-12)


@pytest.mark.parametrize("name", [*BUILDS, FULL])
def test_every_pickup_of_a_batch_is_a_possible_case(name: str) -> None:
    case, content = load_case(name), read_toml(find_case(name))
    causes = causes_of(case)
    samples = causes.deviations(sobol_sample(8, causes.size, seed=1))
    corners = [np.where([c.one_sided for c in causes.active for _ in c.items], -1.0, end) for end in (-1.0, 0.8)]
    for t in [*samples, *corners]:
        read(deviated(case, content, causes, t))


def test_a_pole_that_stands_on_a_magnet_keeps_its_foot_there() -> None:
    for name, stands in (("bar-screws-six", True), ("stacked-six", False)):
        case, content = scattering(name, height="0.2 mm")
        causes = causes_of(case)
        made = read(deviated(case, content, causes, one(causes, height_2=1.0, height_3=-0.5)))
        moved = [np.subtract(a.form.bounds, b.form.bounds)[:, 2]
                 for a, b in zip(made.solid_bodies()[:4], case.solid_bodies()[:4], strict=True)]
        tops, feet = [m[1] for m in moved], [m[0] for m in moved]
        np.testing.assert_allclose(tops, [0, 0.2e-3, -0.1e-3, 0], atol=1e-11)
        np.testing.assert_allclose(feet, np.zeros(4) if stands else tops, atol=1e-11)
        np.testing.assert_allclose(undersides(made), undersides(case), atol=1e-11)


def test_rows_bodies_and_coils_are_told_apart() -> None:
    case, content = scattering(FULL, remanence=0.05, remanence_each=0.02, coercivity=0.1, charge=0.1,
                               charge_each=0.2, height="0.1 mm", turns=0.01, wire=0.02)
    causes = causes_of(case)
    # 2 + 2 poles, of which the third is a magnet, then four bodies of which two are
    items = {c.name: c.items for c in causes.active}
    assert items["height"] == (1, 2, 3, 4)
    assert items["remanence_each"] == items["charge_each"] == (3, 5, 6)
    assert items["remanence"] == items["coercivity"] == (1, 2)  # alnico and ferrite: two batches
    assert items["turns"] == items["wire"] == (1, 2, 3)
    by_name = {c.name: c for c in causes.active}
    assert by_name["remanence_each"].names[5] == "bar"
    assert by_name["remanence"].names == {1: "alnico-5", 2: "ceramic-8"}
    assert by_name["wire"].names == {1: "first", 2: "second", 3: "third"}
    made = read(deviated(case, content, causes, one(
        causes, remanence_1=1.0, remanence_2=-1.0, remanence_each_5=0.5, coercivity_2=1.0, charge=-1.0,
        charge_each_3=-1.0, height_4=1.0, turns_2=1.0, wire_3=-1.0)))
    was, became = ({b.name: b.state for b in c.solid_bodies()} for c in (case, made))
    ratios = {name: (s.remanence / was[name].remanence, s.coercivity / was[name].coercivity,
                     s.charge / was[name].charge) for name, s in became.items()}
    assert ratios["pole 3, part 1"] == pytest.approx((1.05, 1.0, 0.9 * 0.8))
    assert ratios["bar"] == pytest.approx((1.06, 1.0, 0.9))
    assert ratios["body 2"] == pytest.approx((0.95, 1.1, 0.9))
    assert ratios["plate"] == ratios["pole 1, part 1"] == (1.0, 1.0, 1.0)
    assert [c.turns / b.turns for c, b in zip(made.coils(), case.coils(), strict=True)] == pytest.approx([1, 1.01, 1])
    resistances = [a.resistance / b.resistance
                   for a, b in zip(coil_windings(made), coil_windings(case), strict=True)]
    assert resistances == pytest.approx([1, 1.01, 1 / 0.98**2])


def test_usual_limits_are_those_of_each_material_and_wire() -> None:
    content = read_toml(find_case(FULL))
    content["second_coil"][1]["coil"]["wire"] = "44 AWG"
    causes = {c.name: c for c in causes_of(read(content)).active}
    remanence, each = causes["remanence"], causes["remanence_each"]
    assert [remanence.limit_of(i) for i in (1, 2)] == [0.05, 0.03]
    assert [each.limit_of(i) for i in (3, 5, 6)] == [0.02, 0.02, 0.01]
    assert "ferrite" in remanence.reason
    assert "alnico" in remanence.reason
    # NEMA's step of ± 0.0001 in over 42 AWG's 0.06334 mm is less than over 44 AWG's
    wire = causes["wire"]
    assert wire.limit_of(1) == wire.limit_of(2) == pytest.approx(2.54e-3 / 0.06334, rel=1e-3)
    assert wire.limit_of(3) == wire.limit > wire.limit_of(1)
    plan = plan_of(read(content), content, quality="draft", check=CHECK, seed=0)
    outcomes = [evaluate(replace(task, want=("resistance",))) for task in plan.tasks]
    study = study_of(plan, outcomes, count=256, seed=0)
    source = CaseSource(name="made-up", text="…")
    found = result_of(tolerance_document(study, {}, read(content), source), "tolerance")
    told = {c["name"]: c for c in found["causes"]}
    assert told["remanence"]["own_limits"] == [{"part": "ceramic-8", "limit": 0.03}]
    assert {own["part"] for own in told["wire"]["own_limits"]} == {"first", "second"}
    assert "own_limits" not in told["coercivity"]
    assert study.scatter["resistance"].relative_error < 0.1


@pytest.mark.parametrize(("name", "solutions"), [
    ("stacked-six", 1 + 2 * 4),  # the case; remanence, coercivity, charge, heights
    ("side-by-side-six", 1 + 2 * 5),  # heights of two rows
    ("blade-six", 1 + 2 * 3),
    ("bar-screws-six", 1 + 2 * 4),
])
def test_few_solutions_serve_all_runs(name: str, solutions: int) -> None:
    case, content = load_case(name), read_toml(find_case(name))
    plan = plan_of(case, content, quality="draft", check=CHECK, seed=0)
    assert len({solid_part(task) for task in plan.tasks}) == solutions + CHECK
    causes = plan.causes
    assert all("face_field" in task.want for task in plan.tasks) == bool(case.rows())
    assert {c for group in causes.groups for c in group.columns} == set(range(causes.size))
    off = {"charge, each magnet": "the magnets were charged together",
           "places and sizes of bodies, coils and rows": "[scatter] has no limits for them"}
    if not case.rows():
        off["height of each pole"] = "this case has no row of poles"
    assert causes.off == off
    assert causes.rows_together == bool(case.rows())


def test_magnets_charged_one_by_one_have_their_own_charge() -> None:
    content = read_toml(find_case("stacked-six"))
    content["row"]["charged"] = "before assembly"
    causes = causes_of(read(content))
    columns = causes.columns()
    own = next(g for g in causes.groups if g.columns == tuple(columns["charge_each"]))
    assert own.like == columns["charge"][0]  # all magnets there are, so no solutions besides


def test_effort_counts_the_symmetry_that_is_lost() -> None:
    made = small()
    case, plan = read(made), computed()[0]
    runs = plan.tasks[:-CHECK]
    alone, tilted = effort(case, runs, wanted(case)), effort(case, plan.tasks[-CHECK:], wanted(case))
    assert (alone.solutions, tilted.solutions) == (1 + 2 * 2, CHECK)
    # rods off one by one leave one plane of two: twice the unknowns, and time goes with them
    assert tilted.per_solution / alone.per_solution == pytest.approx(2.0)


def test_where_poles_do_not_stand_under_strings_each_has_its_runs() -> None:
    made = small()
    made["strings"]["spacing"] = "4 mm"  # 3 mm beside rods that are 10 mm apart
    causes = causes_of(read(made))
    alone = [g for g in causes.groups if set(g.columns) <= set(causes.columns()["height"])]
    assert [len(g.columns) for g in alone] == [1, 1]
    together = [g for g in computed()[0].causes.groups
                if set(g.columns) <= set(computed()[0].causes.columns()["height"])]
    assert [g.answers for g in together] == [(("pole_1_", "string_1_"), ("pole_2_", "string_2_"))]
    np.testing.assert_array_equal(together[0].shares(["string_2_output", "pole_1_face_field", "inductance"]),
                                  [[0, 1, 0.5], [1, 0, 0.5]])


def test_two_bars_of_one_material_have_runs_of_their_own() -> None:
    case, content = scattering("blade-six", remanence=0.05, remanence_each=0.02)
    one_bar = causes_of(case)
    assert [g.like for g in one_bar.groups] == [None, 0]  # the only bar is the batch
    content["body"].append(content["body"][1] | {"name": "second", "top": "-16 mm"})
    two = causes_of(read(content))
    assert [(g.columns, g.like) for g in two.groups] == [((0,), None), ((1,), None), ((2,), None)]


def test_variance_of_two_resistances_in_series_in_closed_form() -> None:
    """R = Σ R_k N_k/(1 + w_k)² with N_k even on 1 ± n and w_k even on ± w, all independent: the mean is that of one
    coil and the variance Σ R_k² v with v that of one coil, E[N²] = 1 + n²/3, E[(1+w)⁻⁴] = (3 + w²)/(3 (1 − w²)³)."""
    made = small()
    case = read(made)
    plan = plan_of(case, made, quality="draft", check=CHECK, seed=0)
    outcomes = [evaluate(replace(task, want=("resistance",))) for task in plan.tasks]  # nothing is solved for it
    study = study_of(plan, outcomes, count=8192, seed=0)
    n, w, found = 0.01, 0.04, study.scatter["resistance"]
    mean = 1 / (1 - w**2)
    single = (1 + n**2 / 3) * (3 + w**2) / (3 * (1 - w**2) ** 3) - mean**2
    parts = np.array([c.resistance for c in coil_windings(case)])
    assert parts.sum() == pytest.approx(found.nominal, rel=1e-9)
    assert np.ptp(parts) > 0.05 * parts.mean()
    variance = single * np.sum(parts**2) / parts.sum() ** 2
    assert found.spread.mean / found.nominal == pytest.approx(mean, abs=2e-4)
    assert found.spread.deviation / found.nominal == pytest.approx(np.sqrt(variance), rel=3e-3)
    assert found.importance is not None
    share = n**2 / 3 / (n**2 / 3 + 4 * w**2 / 3)
    assert found.importance.total["turns"][0] == pytest.approx(share, abs=0.003)
    assert found.importance.total["wire"][0] == pytest.approx(1 - share, abs=0.03)
    assert found.importance.total["gap"][0] == 0.0


def test_the_surrogate_against_full_designs_within_what_it_says() -> None:
    plan, outcomes = computed()
    assert [o.failure for o in outcomes] == [""] * len(outcomes)
    study = study_of(plan, outcomes, count=1024, seed=0)
    for name, scatter in study.scatter.items():
        assert scatter.relative_error < 0.2, name
        assert scatter.spread.low < scatter.nominal < scatter.spread.high
    made = small()
    others = plan_of(read(made), made, quality="draft", check=CHECK, seed=9)
    found = [evaluate(task) for task in others.tasks[-CHECK:]]
    names = study.surrogate.names
    said = study.surrogate.responses(others.true)
    true = np.stack([responses_of(o.values, names) for o in found])
    for k, name in enumerate(names):
        if name in study.scatter:
            error = np.sqrt(np.mean((said[:, k] - true[:, k]) ** 2))
            # four pickups tell a root mean square to a factor of two or so
            assert error < 3 * study.scatter[name].error, name


def test_a_raised_pole_is_heard_by_the_string_over_it() -> None:
    """Runs that raise all poles of a row against one pole raised alone: its own string and face, and the other's."""
    plan, outcomes = computed()
    study = study_of(plan, outcomes, count=256, seed=0)
    made = small()
    case, t = read(made), one(plan.causes, height_2=-0.9)
    alone = evaluate(Task(number=0, document=deviated(case, made, plan.causes, t), quality="draft",
                          want=("sensitivity", "face_field", "inductance")))
    names = response_names(tuple(alone.values))
    said = dict(zip(study.surrogate.names, study.surrogate.responses(t[None])[0], strict=True))
    base = dict(zip(study.surrogate.names, np.exp(study.surrogate.base), strict=True))
    moved = {name: abs(alone.values[name]) / base[name] - 1 for name in names}
    guess = {name: said[name] / base[name] - 1 for name in names}
    assert moved["string_2_sensitivity"] < -0.01
    assert guess["string_2_sensitivity"] == pytest.approx(moved["string_2_sensitivity"], rel=0.15)
    assert guess["string_1_sensitivity"] == 0.0
    assert abs(moved["string_1_sensitivity"]) < 0.1 * abs(moved["string_2_sensitivity"])
    assert abs(guess["inductance"] - moved["inductance"]) < 2e-4


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """Where the command runs, with an engine that has the designs already."""
    plan, outcomes = computed()

    def ready(tasks: Sequence[Task], folder: Path, **options: Any) -> list[Outcome]:
        assert [t.document for t in tasks] == [t.document for t in plan.tasks]
        assert options["shared"] is solid_part
        folder.mkdir()
        return list(outcomes)

    monkeypatch.setattr(engine, "run_study", ready)
    monkeypatch.setattr("stringflux.cases.studies.tolerance.study.read_content", lambda which, changes: small())
    monkeypatch.setattr("stringflux.cases.studies.tolerance.study.load_case", lambda which, changes: read(small()))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_command_says_what_it_takes_and_what_is_left_out(command: Path, capsys: Printed) -> None:
    said = ["tolerance", "stacked-six", "--quality", "draft", "--check", "4", "--count", "256"]
    assert main([*said, "--limit", "face_field>100 mT"]) == 0
    out, error = (" ".join(text.split()) for text in capsys.readouterr())  # lines break where the terminal ends
    assert error.startswith("Solved in 3-D. ")
    assert "9 3-D solutions" in error
    for words in ("turns, each coil", "diameter of the wire, each coil", "To spare 3-D solutions",
                  "No scatter of places and sizes of bodies, coils and rows: [scatter] has no limits",
                  "face_field>100 mT", "Which tolerance matters most"):
        assert words in out, words
    found = result_of((command / "stacked-six-tolerance" / "tolerance.json").read_text(encoding="utf-8"), "tolerance")
    assert set(found["quantities"]) >= {"output", "balance", "inductance"}
    heads = (command / "stacked-six-tolerance" / "table.csv").read_text(encoding="utf-8").splitlines()[0]
    for column in ("turns_1", "turns_2", "wire_2", "height_2"):
        assert column in heads, column


@pytest.mark.parametrize(("name", "options", "said"), [
    ("blade-six", ["--limit", "face_field>10 mT"], "face_field: this case has no row of poles"),
    ("blade-six", ["--limit", "loudness>3 mV"], 'this study gives no "loudness"'),
    ("stacked-six", ["--limit", "resistance=12 V±5%"], "--limit:"),
    ("stacked-six", ["--check", "2"], "--check: received 2"),
])
def test_command_refuses_before_it_computes(name: str, options: list[str], said: str, capsys: Printed) -> None:
    assert main(["tolerance", name, *options]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1


def test_a_blade_has_all_quantities_but_the_faces() -> None:
    known = set(quantity_names(load_case("blade-six")))
    assert known == set(quantity_names(load_case("stacked-six"))) - {"face_field"}


def test_a_case_whose_limits_are_all_0_is_refused(capsys: Printed, tmp_path: Path) -> None:
    zeros = ", ".join(f"{k} = {json.dumps(v)}" for k, v in NONE.items())
    case = tmp_path / "mine.toml"
    text = find_case("stacked-six").read_text(encoding="utf-8")
    case.write_text(f"scatter = {{ {zeros} }}\n{text}", encoding="utf-8")
    assert main(["tolerance", str(case)]) == 2
    assert "every limit is 0" in capsys.readouterr().err
