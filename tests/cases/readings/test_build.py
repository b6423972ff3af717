"""Readings of builds that the 3-D solver takes: each kind's prediction, fits, refusals, and the command."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rigs.cases.envelope import result_of
from rigs.cases.small_build import document
from stringflux.cases.cli import main
from stringflux.cases.files.changed import toml_text
from stringflux.cases.files.load import built_in_uses, load_case
from stringflux.cases.jobs.prediction import predict
from stringflux.cases.readings.build import build_model
from stringflux.cases.readings.file import read_readings
from stringflux.cases.readings.study import study_readings
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.numerics import Numerics
from stringflux.cases.solved.solve import solved_case
from stringflux.cases.solved.terminals import connected_coils
from stringflux.cases.solved.windings import coil_windings
from stringflux.geometry.case.controls import Lead
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.errors import CaseError, InputError
from stringflux.geometry.reading.read import read_case
from stringflux.postprocess.readings.build_model import BuildModel
from stringflux.postprocess.readings.fit import fit_readings
from stringflux.postprocess.readings.parameters import asked_parameters, prediction_doubts
from stringflux.postprocess.readings.reading import BenchLoad, Reading
from stringflux.postprocess.readings.row_model import State
from stringflux.postprocess.readings.terminals import copper
from stringflux.solver.solid.solve import SolvedSolid

FEW = Numerics(frequencies=(20.0, 2e3))  # eddy currents at every frequency of the command would take most of the time
ON_DRAFT = 0.02  # a field continued to the face of a rod; measured 0.1 to 1.7 % over rods and slugs


def quiet(stage: str, share: float | None) -> None:
    pass


def field(pole: int, distance: float) -> Reading:
    return Reading(line=1, quantity="field", value=0.0, uncertainty=1e-3, pole=pole, distance=distance * 1e-3)


def output(string: int, gap: float) -> Reading:
    return Reading(line=1, quantity="output", value=0.0, uncertainty=0.1, string=string, gap=gap * 1e-3)


def coil(quantity: str, u: float, **conditions: Any) -> Reading:
    return Reading(line=1, quantity=quantity, value=1.0, uncertainty=u, **conditions)


FIELDS = [field(pole, d) for pole in (1, 2) for d in (0.5, 1.0, 2.0, 4.0)]
OUTPUTS = [output(string, gap) for string in (1, 2) for gap in (1.5, 2.0, 2.5, 3.0, 4.0, 5.0)]
DIRECT, HENRY = coil("resistance", 10.0), coil("inductance", 1e-3, frequency=20.0)
LOADED = coil("resonance", 100.0, load=BenchLoad(capacitance=470e-12))


@pytest.fixture(scope="module")
def case() -> Case:
    return read_case(document(), materials=built_in_uses())


@pytest.fixture(scope="module")
def model(case: Case) -> BuildModel:
    return build_model(case, [*FIELDS, *OUTPUTS, DIRECT, HENRY, LOADED], "draft", quiet, numerics=FEW)


@pytest.fixture(scope="module")
def single() -> Case:
    """The build with one coil."""
    content = document()
    del content["second_coil"]
    return read_case(content, materials=built_in_uses())


def invented(model: BuildModel, readings: Sequence[Reading], truth: State) -> list[Reading]:
    """Readings of a pickup in this state, with normal scatter of their uncertainties."""
    exact = model.predict(readings, truth)
    noise = np.random.default_rng(4).normal(size=len(readings))
    return [replace(r, value=float(v + r.uncertainty * n)) for r, v, n in zip(readings, exact, noise, strict=True)]


@pytest.mark.slow
def test_predictions_are_those_of_the_program(case: Case, model: BuildModel) -> None:
    whole = predict(case, quality="draft", maps=False)
    # 0.5 mm, where predict sums, is under the height from which a draft mesh is summed here; it sums to 0.5 % there
    got = model.predict([field(1, 0.5), field(2, 0.5)], {})
    np.testing.assert_allclose(got, [p.field for p in whole.poles], rtol=5e-3)
    henry, dc = model.predict([HENRY, DIRECT], {})
    assert henry == pytest.approx(whole.coil.inductance, rel=1e-3)  # eddy currents and capacitance: under 1e-3
    assert dc == pytest.approx(sum(w.resistance for w in coil_windings(case)), rel=1e-12)
    # λ over 5 mm by one polynomial; the readings themselves are good to 0.1 dB
    levels = model.predict(OUTPUTS, {})[[2, 8]]
    np.testing.assert_allclose(levels, [20 * np.log10(s.sensitivity) for s in whole.strings], atol=0.05)


def test_fields_down_to_the_face_are_those_of_the_row_solver() -> None:
    bench = load_case("bench-single")
    materials = case_materials(bench)
    row, solid = (solved_case(bench, "draft", solver=s).solution() for s in ("row", "solid"))
    assert isinstance(solid, SolvedSolid)
    coils = connected_coils(bench, solid.matrix, np.array([20.0]))
    found = BuildModel(bench, solid, materials, coil_windings(bench), coils)
    for distance in (0.0, 0.1, 0.3, 0.59, 0.61, 2.0):
        exact = row.face_field(distance * 1e-3)[0]
        assert found.predict([field(1, distance)], {})[0] == pytest.approx(exact, rel=ON_DRAFT)


@pytest.mark.parametrize("how", ["series", "parallel", "lower"])
def test_copper_is_that_of_the_connection(how: str, model: BuildModel) -> None:
    case = read_case(document(connection={"coils": how}), materials=built_in_uses())
    made = coil_windings(case)
    coils = connected_coils(case, model.solved.matrix, np.array([20.0]))
    found = copper(made, coils)
    expect = {"series": lambda r: sum(r), "parallel": lambda r: 1 / sum(1 / x for x in r), "lower": lambda r: r[1]}
    np.testing.assert_allclose(found.resistance_computed,
                               [expect[how]([w.resistance_computed[i] for w in made]) for i in range(3)])
    assert found.resistance == found.resistance_computed[1]
    assert found.capacitance_band[0] < found.capacitance < found.capacitance_band[1]


@pytest.mark.parametrize("alone", [False, True])
def test_a_meter_at_the_end_of_the_lead_sees_it_too(alone: bool, case: Case, single: Case, model: BuildModel) -> None:
    """45 pF of lead and 470 pF hung on are 515 pF hung on."""
    own, count = (single, 1) if alone else (case, 2)
    lead = Lead.model_validate({"length": "0.3 m", "capacitance": "150 pF/m"})
    matrix = model.solved.matrix[:count, :count]

    def of(made: Case, hung: float) -> float:
        coils = connected_coils(made, matrix, np.array([20.0]))
        found = BuildModel(made, model.solved, model.materials, coil_windings(made), coils)
        return float(found.predict([replace(LOADED, load=BenchLoad(capacitance=hung))], {})[0])

    assert of(own.model_copy(update={"lead": lead}), 470e-12) == pytest.approx(of(own, 515e-12), rel=1e-6)
    assert of(own, 515e-12) < 0.99 * of(own, 470e-12)


def test_offsets_of_gap_and_probe_are_found_within_their_intervals(case: Case, model: BuildModel) -> None:
    truth = {"gap": 0.3e-3, "probe": 0.4e-3}
    readings = invented(model, [*FIELDS, *OUTPUTS, *OUTPUTS, DIRECT], truth)  # each output read twice
    study = study_readings(case, readings, ["all"], quality="draft", progress=quiet)
    assert study.fit is not None
    assert [f.parameter.name for f in study.fit.fitted] == ["gap", "probe"]
    for f in study.fit.fitted:
        low, high = f.interval
        assert low < truth[f.parameter.name] < high
        assert high - low < 0.5e-3  # the half-width in which they are plausible
    assert max(abs(x.sigma_fitted or 0.0) for x in study.residuals) < 3.5
    assert all(x.doubt > 0 for x in study.residuals if x.reading.quantity != "output")


def test_turns_of_one_coil(single: Case) -> None:
    loaded = replace(LOADED, load=BenchLoad(capacitance=2e-9))
    asked = [DIRECT, HENRY, coil("inductance", 2e-3, frequency=1e3), loaded]
    model = build_model(single, asked, "draft", quiet, numerics=FEW)
    n = model.made.turns
    before, after = model.predict(asked, {}), model.predict(asked, {"turns": 1.1 * n})
    np.testing.assert_allclose(after[:3] / before[:3], [1.1, 1.21, 1.21], rtol=1e-3)
    # L as N² under a capacitance of 2 nF beside which the winding's is small
    assert after[3] / before[3] == pytest.approx(1 / 1.1, rel=5e-3)
    readings = [replace(r, value=v) for r, v in zip(asked, after, strict=True)]
    fit = fit_readings(model, readings, asked_parameters(["turns"], model, readings),
                       prediction_doubts(model, readings))
    assert fit.fitted[0].value == pytest.approx(1.1 * n, rel=2e-3)


def test_the_doubt_about_signals_is_in_that_of_the_inductance(case: Case) -> None:
    solved = solved_case(case, "draft")
    nominal = abs(solved.solution().inductance)
    low, high = build_model(case, [HENRY], "draft", quiet).inductance_range
    expected = sorted(abs(end.inductance) / nominal for end in solved.signal_ends())
    np.testing.assert_allclose([low, high], expected, rtol=1e-6)
    assert low < 0.99 < 1.01 < high


def test_strings_are_solved_for_where_one_was_read(case: Case) -> None:
    """Over poles those beside it too, which are counted."""
    model = build_model(case, [output(2, 2.0), output(2, 3.0)], "draft", quiet)
    assert [p.y for p in model.solved.field.places] == [s.y for s in placed_strings(case)]
    assert build_model(case, [DIRECT], "draft", quiet).solved.field.places == ()


HEAD = "quantity,pole,string,distance,gap,value,uncertainty\n"


@pytest.mark.parametrize(
    ("name", "line", "said"),
    [
        ("blade-six", "field,1,,1 mm,,20 mT,1 mT", 'line 2, column "pole": the case has no poles'),
        ("side-by-side-six", "field,13,,1 mm,,20 mT,1 mT", "the case has poles 1 to 12"),
    ],
)
def test_poles_of_a_file_are_those_of_all_rows(name: str, line: str, said: str, tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_text(HEAD + line + "\n", encoding="utf-8")
    with pytest.raises(InputError, match=said):
        read_readings(str(path), load_case(name))


@pytest.fixture
def files(tmp_path: Path) -> tuple[str, str]:
    """The build as a file, and readings of it."""
    own, read = tmp_path / "build.toml", tmp_path / "read.csv"
    own.write_text(toml_text(document()), encoding="utf-8")
    read.write_text(HEAD + "field,2,,1 mm,,120 mT,2 mT\nresistance,,,,,2.5 kohm,1 %\n"
                    + "".join(f"output,,1,,{gap} mm,{mV} mV,1 %\n" for gap, mV in ((1.5, 64), (2.5, 45), (4, 28))),
                    encoding="utf-8")
    return str(own), str(read)


def test_the_command(files: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out"
    assert main(["readings", *files, "--quality", "draft", "--fit", "gap", "--out", str(out), "--json"]) == 0
    found = result_of(capsys.readouterr().out, "readings")
    assert [r["reading"]["quantity"] for r in found["readings"]] == ["field", "resistance", *["output"] * 3]
    assert found["readings"][0]["predicted"] == pytest.approx(0.11392, rel=1e-3)
    assert {p.name for p in out.iterdir()} == {"readings.csv", "readings.png", "readings.svg", "fitted-case.toml"}
    fitted = load_case(out / "fitted-case.toml")
    assert fitted.strings.gap == pytest.approx(2.5e-3 + found["fit"]["fitted"]["gap"]["value"], abs=1e-8)
    assert fitted.coil.resistance is None  # what was read is of both coils


def test_the_next_pickup_relative_to_a_build(files: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    own, read = files
    assert main(["readings", own, read, "--relative-to", own, "--quality", "draft", "--json"]) == 0
    first, second = result_of(capsys.readouterr().out, "readings")["strings"]
    assert (first["level"], *first["band"]) == (0.0, 0.0, 0.0)
    assert second["voltage"] is None
    # the case's gap is that of the second of three readings, from which the curve is less than 5 % away
    assert first["voltage"] == pytest.approx(45e-3, rel=0.05)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("coercivity-each", "every trial would be a 3-D solution of its own; write gap, probe or all"),
        ("turns", "do not tell one coil from another; write gap, probe or all"),
        ("gpa", 'received "gpa" (did you mean "gap"?)'),
    ],
)
def test_what_cannot_be_fitted_is_refused_at_once(name: str, said: str, files: tuple[str, str],
                                                  capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["readings", *files, "--fit", name]) == 2
    told = capsys.readouterr().err.splitlines()
    assert len(told) == 1
    assert said in told[0]


def test_a_model_refuses_them_too(case: Case) -> None:
    with pytest.raises(CaseError, match="3-D solution"):
        study_readings(case, [replace(DIRECT, value=2500.0)], ["charge"], quality="draft", progress=quiet)
