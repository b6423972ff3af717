"""Designs of bodies and several coils: their figures are those of the commands, and a 3-D solution is shared."""

from __future__ import annotations

import math
from collections.abc import Generator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rigs.cases.small_build import document, task
from rigs.cases.strings_at_rest import gaps
from stringflux.cases.files.load import built_in_uses, find_case, load_case, read_toml
from stringflux.cases.jobs.prediction import predict
from stringflux.cases.kept.store import Store
from stringflux.cases.solved import solve_build as case_solid
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.numerics import Numerics
from stringflux.cases.solved.solid_inputs import solid_inputs
from stringflux.cases.solved.terminals import build_network
from stringflux.cases.solving import solve
from stringflux.cases.studies.balance.problem import BalanceRequest, balance_problem
from stringflux.cases.studies.balance.setting import changed_content
from stringflux.cases.studies.balance.study import balance_case
from stringflux.cases.studies.compare.command import CompareOptions, comparison
from stringflux.cases.studies.compare.fields import find_field
from stringflux.cases.studies.designs.effort import effort, solid_part
from stringflux.cases.studies.designs.evaluate import evaluate
from stringflux.cases.studies.designs.outputs import COMMON, FIGURES
from stringflux.cases.studies.engine import engine
from stringflux.cases.studies.engine.dealing import Shares
from stringflux.cases.studies.engine.task import Outcome, Task
from stringflux.cases.studies.shape import command as command_shape
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.check_strings import CLEARANCE
from stringflux.geometry.reading.read import read_case
from stringflux.postprocess.coil.controls import LoadedCoil, network
from stringflux.postprocess.plucked.modes import Pluck

SAME = 1e-9  # one turn scaled against all turns: rounding, times the differences that make a slope
LADDER = 1e-5  # the circuit's fit stops where it gains nothing: 1e-12 of L moves the resonance by 3e-6
HIGHER = 1e-3  # of a pull whose poles' answers are tabulated higher up, as for rows


@pytest.fixture(scope="module")
def case() -> Case:
    return read_case(document(), materials=built_in_uses())


@pytest.mark.slow
def test_figures_are_those_of_the_commands(store: Store, case: Case) -> None:
    few = (20.0, 2e3, 20e3)  # of the frequencies: what counts here is that both go the same way
    found = evaluate(task(want=tuple(FIGURES)), store, Numerics(frequencies=few))
    assert found.failure == ""
    v = found.values
    assert {name for name in v if name in FIGURES} == set(FIGURES)
    pickup = solve(case, quality="draft")
    told = pickup.prediction(maps=False)
    for s in told.strings:
        assert v[f"string_{s.number}_sensitivity"] == pytest.approx(s.sensitivity, rel=SAME)
        assert v[f"string_{s.number}_gap_slope"] == pytest.approx(s.gap_slope, rel=1e-7)
        assert v[f"string_{s.number}_balance"] == pytest.approx(s.balance, abs=1e-8)
    for p in told.poles:
        assert v[f"pole_{p.number}_face_field"] == pytest.approx(p.field, rel=SAME)
    assert v["inductance"] == pytest.approx(told.coil.inductance, rel=SAME)
    for played in pickup.signal(Pluck(displacement=1e-3)):
        assert v[f"string_{played.number}_output"] == pytest.approx(played.signal.rms, rel=1e-7)
    for pulled in pickup.pull():
        cents = max(pulled.detuning.cents_y, pulled.detuning.cents_z, key=abs)
        assert v[f"string_{pulled.number}_pull"] == pytest.approx(cents, rel=HIGHER)
    area = pickup.hum().area
    assert v["hum_area"] == pytest.approx(math.hypot(*area.total), rel=SAME)
    materials = case_materials(case)
    solved: Any = pickup.solved.solution()
    coils = build_network(case, solved, materials, np.array(few))
    assert v["resistance"] == pytest.approx(coils.resistance, rel=SAME)
    assert v["capacitance"] == pytest.approx(coils.capacitance, rel=1e-4)  # at 20 Hz eddies take 1e-5 of the shares
    response = LoadedCoil(coil=coils.circuit(), network=network(case.load)).response()
    assert v["resonance"] == pytest.approx(response.resonance, rel=LADDER)
    assert v["resonance_peak"] == pytest.approx(response.peak, rel=LADDER)
    keeperless = math.pi / 4 * 4.8e-3**2 * 15e-3 * 2  # two rods; the keeper is no magnet
    assert v["magnet_volume"] == pytest.approx(keeperless, rel=1e-12)


@pytest.mark.slow
def test_connections_turns_and_gaps_share_a_solution(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    solved = []
    made = case_solid.solve_solid
    monkeypatch.setattr(case_solid, "solve_solid", lambda *given, **more: solved.append(1) or made(*given, **more))
    names = ("sensitivity", "inductance", "resistance", "hum_area")
    evaluate(task(want=names), store)  # whichever test ran first
    solved.clear()
    whole = evaluate(task(want=names), store).values
    half = evaluate(task(want=names, coil__turns=2000, second_coil__1__coil__turns=1800), store).values
    assert half["sensitivity"] == pytest.approx(whole["sensitivity"] / 2, rel=1e-12)
    assert half["inductance"] == pytest.approx(whole["inductance"] / 4, rel=1e-12)
    upper, lower = (evaluate(task(want=names, connection={"coils": name}), store).values
                    for name in ("upper", "lower"))
    # wound against each other: what both hear alike is taken away, and the lower coil hears the strings less
    assert whole["hum_area"] == pytest.approx(abs(upper["hum_area"] - lower["hum_area"]), rel=1e-9)
    assert lower["sensitivity"] < 0.5 * upper["sensitivity"]
    assert whole["resistance"] == pytest.approx(upper["resistance"] + lower["resistance"], rel=1e-12)
    parallel = evaluate(task(want=names, connection={"coils": "parallel"}), store).values
    assert 1 / parallel["resistance"] == pytest.approx(1 / upper["resistance"] + 1 / lower["resistance"], rel=1e-12)
    closer = evaluate(task(want=names, strings__gap="2 mm"), store).values
    assert closer["sensitivity"] > 1.1 * whole["sensitivity"]
    assert not solved
    bare = evaluate(task(want=("inductance",), body__1__material="brass"), store).values
    assert bare["inductance"] < whole["inductance"]  # steel under the coils raises it
    assert len(solved) == 1


def test_designs_of_one_solution_follow_each_other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    computed: list[int] = []

    class Alone:
        def results(self, shares: Shares, evaluate: Any) -> Generator[Outcome | None, None, None]:
            shares.deal(["me"])
            while (one := shares.take("me")) is not None:
                computed.append(one.number)
                yield evaluate(one)

    monkeypatch.setattr(engine, "_crew", lambda *given: engine.nullcontext(Alone()))
    magnets = ("alnico-2", "alnico-5", "alnico-2", "alnico-5")
    tasks = [task(number=n, pole__1__part__1__material=m, coil__turns=4000 - n) for n, m in enumerate(magnets)]
    outcomes = engine.run_study(tasks, tmp_path, evaluate=made_up, progress=lambda *said: None, shared=solid_part)
    assert computed == [0, 2, 1, 3]
    assert [o.number for o in outcomes] == [0, 1, 2, 3]


def made_up(one: Task) -> Outcome:
    return Outcome(number=one.number, values={"inductance": 1.0})


@pytest.mark.parametrize(("changes", "alike"), [
    ({"coil__turns": 3000}, True), ({"strings__gap": "2 mm"}, True), ({"connection": {"coils": "upper"}}, True),
    ({"second_coil__1__coil__wire": "44 AWG"}, True), ({"string__1__gauge": "0.02 in"}, True),
    ({"coil__top": "-2 mm"}, False), ({"second_coil__1__coil__build": "3.2 mm"}, False),
    ({"row__face": "2 mm"}, False),
    ({"body__1__top": "-14 mm"}, False), ({"pole__1__part__1__charge": 0.9}, False),
])
def test_what_a_solution_depends_on(changes: dict[str, Any], alike: bool) -> None:
    """By the text of the file as by the solver's own inputs."""
    one, other = (read_case(d, materials=built_in_uses()) for d in (document(), document(**changes)))
    inputs = [solid_inputs(c, "draft", case_materials(c)) for c in (one, other)]
    assert (inputs[0] == inputs[1]) is alike
    assert (solid_part(task()) == solid_part(task(**changes))) is alike


def test_effort_is_said_before(case: Case) -> None:
    tasks = [task(number=n, strings__gap=f"{2 + n / 10} mm", body__1__material=("brass", "steel-1008")[n % 2])
             for n in range(6)]
    needed = effort(case, tasks, COMMON)
    assert (needed.designs, needed.solutions) == (6, 2)
    assert needed.words(2).startswith("6 designs with 2 3-D solutions of about ")
    assert needed.seconds(1) > needed.seconds(2) > 0
    assert effort(case, tasks, FIGURES).per_solution > needed.per_solution


def test_fields_of_bodies_and_second_coils() -> None:
    data = read_toml(find_case("side-by-side-six"))
    whole = load_case("side-by-side-six")
    field = find_field("body.1.centre.1", data, whole)
    field.put(data, "0.2 mm")
    assert data["body"][0]["centre"] == ["0.2 mm", "0 mm"]
    find_field("second_coil.1.row.face.3", data, whole).put(data, "1.2 mm")
    assert data["second_coil"][0]["row"]["face"] == ["1 mm", "1 mm", "1.2 mm", "1 mm", "1 mm", "1 mm"]
    find_field("body.1.magnetised", data, whole).put(data, "to -x")
    found = read_case(data, materials=built_in_uses())
    assert found.body[0].centre == (0.2e-3, 0.0)
    assert found.second_coil[0].row is not None
    assert found.second_coil[0].row.faces()[2] == pytest.approx(1.2e-3)


def test_a_figure_without_a_value_is_refused_by_name() -> None:
    vary = ("strings.gap=2mm,3mm",)
    asked = comparison(CompareOptions(which="blade-six", vary=vary, quality="draft"))
    assert "face_field" not in asked.tasks.want
    assert "sensitivity" in asked.tasks.want
    with pytest.raises(CaseError, match=r"--rank: face_field: this case has no row of poles"):
        comparison(CompareOptions(which="blade-six", vary=vary, rank=("face_field",)))
    with pytest.raises(CaseError, match=r"--want: face_field"):
        comparison(CompareOptions(which="blade-six", vary=vary, want=("pole_1_face_field",)))
    with pytest.raises(CaseError, match="the case has 12 poles"):
        comparison(CompareOptions(which="side-by-side-six", vary=vary, rank=("pole_13_face_field",)))
    told = evaluate(Task(number=0, document=read_toml(find_case("blade-six")), quality="draft", want=("face_field",)))
    assert "no row of poles" in told.failure


@pytest.mark.slow
def test_a_tilt_is_found_over_one_solution(case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    solved = []
    made = case_solid.solve_solid
    monkeypatch.setattr(case_solid, "solve_solid", lambda *given, **more: solved.append(1) or made(*given, **more))
    found = balance_case(document(), case, BalanceRequest(by="tilt", measure="sensitivity"), quality="draft")
    assert len(solved) == 1
    assert np.ptp(found.off_before) > 3.0
    assert np.ptp(found.off_after) < 0.1  # two strings and two sides; a step of 0.05 mm is 0.2 dB of either, halved
    assert found.gaps[0] == pytest.approx(gaps(case))
    # the case that is written has the levels that are told
    changed = read_case(changed_content(document(), found.changes), materials=built_in_uses())
    assert gaps(changed) == pytest.approx(found.gaps[1])
    levels = [20 * math.log10(s.sensitivity) for s in predict(changed, quality="draft", maps=False).strings]
    # answers tabulated as high as they were for the whole travel, and anew
    assert levels == pytest.approx(found.after.level, abs=0.01)


def test_strings_stay_clear_of_a_build() -> None:
    """A cover 0.4 mm under the strings leaves less than the least gap does."""
    cover = {"shape": "cover", "name": "lid", "material": "brass", "along": "20 mm", "across": "30 mm",
             "height": "19 mm", "wall": "0.5 mm", "top": "3.6 mm"}
    data = document()
    data["body"].append(cover)
    covered = read_case(data, materials=built_in_uses())
    problem = balance_problem(covered, BalanceRequest(by="tilt", least_gap=0.6e-3))
    lids = [k for k in problem.limits if "lid" in k.words]
    assert [k.words for k in lids] == ["string 1 would run into lid", "string 2 would run into lid"]
    assert [k.most for k in lids] == pytest.approx([0.4e-3 - CLEARANCE] * 2)


def test_what_takes_rows_alone_says_what_to_do() -> None:
    with pytest.raises(CaseError, match=r"^shape takes one row .* tips of your own by stringflux compare"):
        command_shape.shape(which="stacked-six", form="dome", quality="draft")
