"""Readings against a solved case: each kind's prediction, and known offsets found again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from stringflux.cases.files.load import load_case
from stringflux.cases.jobs.prediction import predict
from stringflux.cases.readings.study import bench_model, study_readings
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.solve import solved_case
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.errors import CaseError
from stringflux.postprocess.coil.winding import winding
from stringflux.postprocess.figures.readings import readings_figure
from stringflux.postprocess.readings.parameters import OWN_INDUCTANCE
from stringflux.postprocess.readings.reading import BenchLoad, Reading
from stringflux.postprocess.readings.row_model import BenchModel, State
from stringflux.postprocess.string.heard import heard_slopes
from stringflux.postprocess.string.layers import layers_of


def quiet(stage: str, share: float | None) -> None:
    pass


def field(distance: float, u: float = 1e-3) -> Reading:
    return Reading(line=1, quantity="field", value=0.0, uncertainty=u, pole=1, distance=distance)


def output(gap: float) -> Reading:
    return Reading(line=1, quantity="output", value=0.0, uncertainty=0.1, string=1, gap=gap)


def inductance(frequency: float) -> Reading:
    return Reading(line=1, quantity="inductance", value=0.1, uncertainty=1e-3, frequency=frequency)


FIELDS = [field(d * 1e-3) for d in (0.5, 1, 2, 3, 5)]
OUTPUTS = [output(g * 1e-3) for g in (1.5, 2, 2.5, 3, 4, 5)]
RESISTANCE = Reading(line=1, quantity="resistance", value=1.0, uncertainty=8.0)
RESONANCE = Reading(line=1, quantity="resonance", value=1.0, uncertainty=200.0)
LOADED = Reading(line=1, quantity="resonance", value=1.0, uncertainty=60.0, load=BenchLoad(capacitance=470e-12))
ALL = [*FIELDS, *OUTPUTS, RESISTANCE, inductance(120.0), inductance(1e3), RESONANCE, LOADED]


@pytest.fixture(scope="module")
def case() -> Case:
    return load_case("bench-single")


@pytest.fixture(scope="module")
def model(case: Case) -> BenchModel:
    return bench_model(case, ALL, "draft", quiet)


def invented(model: BenchModel, readings: Sequence[Reading], truth: State, seed: int) -> list[Reading]:
    """Readings of a pickup in this state, with normal scatter of their uncertainties."""
    exact = model.predict(readings, truth)
    noise = np.random.default_rng(seed).normal(size=len(readings))
    return [replace(r, value=float(v + r.uncertainty * n)) for r, v, n in zip(readings, exact, noise, strict=True)]


def test_predictions_are_those_of_the_program(case: Case, model: BenchModel) -> None:
    field_at, dc, henry = model.predict([FIELDS[0], RESISTANCE, inductance(20.0)], {})
    whole = predict(case, quality="draft", maps=False)
    assert field_at == pytest.approx(whole.poles[0].field, rel=1e-9)
    assert dc == pytest.approx(winding(case).resistance, rel=1e-12)
    # at 20 Hz eddy currents and capacitance take less than a thousandth
    assert henry == pytest.approx(whole.coil.inductance, rel=1e-3)


def test_output_follows_the_sensitivity(case: Case, model: BenchModel) -> None:
    row, materials = solved_case(case, "draft").solution(), case_materials(case)
    shape = placed_strings(case)[0].shape
    exact = []
    for gap in (1.5e-3, 2.5e-3, 4e-3):
        s = replace(shape, axis_height=case.placed_poles()[0].face + gap + shape.outer_radius)
        exact.append(20 * np.log10(abs(heard_slopes(row.field, s, layers_of(s, materials)).z)))
    got = model.predict(OUTPUTS, {})[[0, 2, 4]]
    # λ over 5 mm by one polynomial; the readings themselves are good to 0.1 dB
    np.testing.assert_allclose(got, exact, atol=0.05)


def test_offsets_move_what_they_should(model: BenchModel) -> None:
    at = model.predict([FIELDS[1], OUTPUTS[3]], {})
    moved = model.predict([FIELDS[0], OUTPUTS[2]], {"probe": 0.5e-3, "gap": 0.5e-3})
    # the range of gaps, and with it the polynomial, is another one: under 0.01 dB
    assert moved[0] == pytest.approx(at[0], rel=1e-9)
    assert moved[1] == pytest.approx(at[1], abs=0.01)
    assert model.predict([field(0.0)], {"probe": -1e-3}) == model.predict([field(0.0)], {})  # not into the pole


def test_turns_and_capacitance(model: BenchModel) -> None:
    n = model.made.turns
    low, dc = model.predict([inductance(100.0), RESISTANCE], {"turns": 1.1 * n, "wire": 1.02})
    before = model.predict([inductance(100.0), RESISTANCE], {})
    np.testing.assert_allclose([low, dc] / before, [1.21, 1.1 * 1.02], rtol=2e-4)  # capacitance: under 1e-4
    four = model.predict([RESONANCE], {"capacitance": 4 * model.made.capacitance})
    # L and loss of the poles fall with frequency
    assert model.predict([RESONANCE], {}) / four == pytest.approx(2.0, rel=0.08)
    warm = replace(RESISTANCE, temperature=45.0)
    assert model.predict([warm], {}) == pytest.approx(model.predict([RESISTANCE], {}) * (1 + 25 * 0.00393))


TRUTH = {"coercivity": 0.88, "turns": 4800.0, "capacitance": 80e-12, "gap": 0.3e-3, "probe": 0.35e-3}


def test_known_offsets_are_found_within_their_intervals(case: Case, model: BenchModel) -> None:
    # outputs read twice: a weaker magnet and a higher string do nearly the same to a steel that remembers
    readings = [*ALL, *OUTPUTS]
    data = invented(model, readings, TRUTH, seed=11)
    study = study_readings(case, data, tuple(TRUTH), quality="draft")
    assert study.fit is not None
    assert study.fit.freedom == len(readings) - 5 - 1
    for f in study.fit.fitted:
        low, high = f.interval
        assert low <= TRUTH[f.parameter.name] <= high, f
        assert high - low < 2 * f.parameter.scale
    left = [abs(r.sigma_fitted or 0.0) for r in study.residuals]
    assert max(left) < 4  # of 16 normal ones
    assert max(abs(r.sigma) for r in study.residuals) > 3  # the case itself was wrong
    figure = readings_figure(study.residuals, study.model, study.start, study.fit.state, "invented")
    assert len(figure.axes) == 3
    figure.draw_without_rendering()


def test_a_read_offset_of_the_probe_is_a_prior(case: Case, model: BenchModel) -> None:
    at = Reading(line=2, quantity="probe offset", value=0.4e-3, uncertainty=0.05e-3)
    data = invented(model, FIELDS, {"coercivity": 0.9, "probe": 0.4e-3}, seed=2)
    study = study_readings(case, [at, *data], ("coercivity",), quality="draft")
    assert study.fit is not None
    assert {f.parameter.name for f in study.fit.doubts} == {"field", "probe"}
    assert len(study.residuals) == len(FIELDS)
    assert study.start["probe"] == pytest.approx(0.4e-3)
    low, high = study.fit.fitted[0].interval
    assert low < 0.9 < high


def test_charge_of_a_full_alnico_is_refused_and_a_half_charge_found(case: Case, model: BenchModel) -> None:
    full = invented(model, FIELDS, {}, seed=3)
    with pytest.raises(CaseError, match=r"charge of the magnets above 0\.8.*fit coercivity instead"):
        study_readings(case, full, ("charge",), quality="draft")
    half = invented(model, FIELDS, {"charge": 0.45}, seed=3)
    study = study_readings(case, half, ("charge",), quality="draft")
    assert study.fit is not None
    low, high = study.fit.fitted[0].interval
    assert low < 0.45 < high < 0.65


@pytest.mark.parametrize(
    ("readings", "names", "said"),
    [
        ([RESISTANCE], ("coercivity",), "coercivity of the magnets.*all readings together move by 0"),
        (FIELDS, ("turns",), "the number of turns.*add the inductance"),
        ([inductance(120.0)], ("capacitance",), "the capacitance of the winding.*resonance with nothing"),
        (OUTPUTS[:1], ("gap",), "offset of the gaps.*wider range of gaps"),
        ([FIELDS[2]], ("coercivity", "probe"), "trades against"),
        (FIELDS, ("coercivity", "coercivity-each"), "both coercivity and coercivity-each"),
        (FIELDS, ("turn",), 'received "turn" .did you mean "turns"'),
    ],
)
def test_refusals(case: Case, model: BenchModel, readings: list[Reading], names: tuple[str, ...], said: str) -> None:
    with pytest.raises(CaseError, match=said):
        study_readings(case, invented(model, readings, {}, seed=1), names, quality="draft")


def test_all_leaves_out_what_it_cannot_have(case: Case, model: BenchModel) -> None:
    study = study_readings(case, invented(model, [RESISTANCE, inductance(120.0)], {}, 5), ("all",), quality="draft")
    assert study.fit is not None
    assert [f.parameter.name for f in study.fit.fitted] == ["turns"]
    assert len(study.fit.refused) == 4


def test_a_probe_the_other_way_up_is_told(case: Case, model: BenchModel) -> None:
    turned = [replace(r, value=-r.value) for r in invented(model, FIELDS, {}, 6)]
    study = study_readings(case, turned, quality="draft")
    assert "sign" in study.notes[0]
    assert all(r.reading.value > 0 for r in study.residuals)


def test_doubts_widen_the_comparison(case: Case, model: BenchModel) -> None:
    study = study_readings(case, invented(model, [FIELDS[0], RESISTANCE], {}, 7), quality="draft")
    at_face, ohms = study.residuals
    assert 0.01 < at_face.doubt / at_face.predicted < 0.04  # μ_⊥ ± 4 % over √3, and 1 % of the method
    assert 0.005 < ohms.doubt / ohms.predicted < 0.06  # diameter ± 4 % by the standard
    assert abs(at_face.sigma) < abs(at_face.difference / at_face.reading.uncertainty)


def test_the_doubt_about_signals_is_in_that_of_the_inductance(case: Case, model: BenchModel) -> None:
    """As a whole solution has it with the magnets at either end of their range: what `predict` says of L."""
    solved = solved_case(case, "draft")
    ends = [abs(end.inductance) for end in solved.signal_ends()]
    nominal = abs(solved.solution().inductance)
    np.testing.assert_allclose(model.inductance_range, [min(ends) / nominal, max(ends) / nominal], rtol=1e-9)
    henry = invented(model, [inductance(120.0)], {}, 8)
    (row,) = study_readings(case, henry, quality="draft").residuals
    own = np.hypot((max(ends) - min(ends)) / 2 / np.sqrt(3) / nominal, OWN_INDUCTANCE)
    assert row.doubt / row.predicted == pytest.approx(own, rel=2e-3)  # the capacitance adds a little
    assert bench_model(case, [RESISTANCE], "draft", quiet).inductance_range == (1.0, 1.0)  # nobody asks


def test_nothing_to_compare(case: Case) -> None:
    at = Reading(line=2, quantity="probe offset", value=0.4e-3, uncertainty=0.05e-3)
    with pytest.raises(CaseError, match="nothing that could be compared"):
        study_readings(case, [at], quality="draft")
