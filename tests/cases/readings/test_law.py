"""Readings in volts and webers: against the driven string, the pickup's own flux, and their doubts."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from stringflux.cases import compare_readings, load_case, solve
from stringflux.cases.demonstrations.settings import LessonSettings
from stringflux.cases.demonstrations.string import driven
from stringflux.cases.readings.study import study_readings
from stringflux.geometry.errors import CaseError, InputError
from stringflux.postprocess.readings.driven import LawModel, amplitude_name, gap_name
from stringflux.postprocess.readings.reading import Reading

pytestmark = pytest.mark.usefixtures("shared_solutions")

HEAD = "quantity,string,gap,gap uncertainty,frequency,amplitude,amplitude uncertainty,step,value,uncertainty\n"


def emf(quantity: str = "emf rms", gap: float = 2.5e-3, **others: float) -> Reading:
    given = {"frequency": 196.0, "amplitude": 0.5e-3, **others}
    return Reading(line=int(gap * 1e5) + (quantity == "emf peak"), quantity=quantity, value=0.02, uncertainty=1e-4,
                   string=1, gap=gap, **given)  # type: ignore[arg-type]


def flux(step: str) -> Reading:
    return Reading(line=len(step), quantity="flux step", value=0.06, uncertainty=1e-3, step=step)


def test_volts_are_those_of_the_driven_string() -> None:
    """At the case's gap and at another, against `demonstrate string` of a case that has that gap."""
    case = load_case("bench-single")
    found = study_readings(case, [emf(), emf("emf peak"), emf(gap=3.5e-3)], quality="draft").residuals
    here, there = (driven(solve(c, quality="draft"), LessonSettings(amplitude=0.5e-3, frequency=196.0))[0]
                   for c in (case, load_case("bench-single", {"string.1.gap": "3.5 mm"})))
    n = (here.time.size - 1) // 2
    for row, one in ((found[0], here), (found[2], there)):
        assert row.predicted == pytest.approx(math.sqrt(np.mean(one.emf[:n] ** 2)), rel=1e-4)
    assert found[1].predicted == pytest.approx(np.ptp(here.emf) / 2, rel=2e-3)  # 72 places of a period there


def test_flux_steps_are_turns_times_the_flux_of_one() -> None:
    case = load_case("bench-single")
    found = study_readings(case, [flux("magnets out"), flux("turned over")], quality="draft").residuals
    one = solve(case, quality="draft").solved.turn_flux()
    assert found[0].predicted == pytest.approx(case.coil.turns * abs(one or 0.0), rel=1e-9)
    assert found[1].predicted == pytest.approx(2 * found[0].predicted, rel=1e-12)
    assert found[0].doubt == pytest.approx(0.01 * found[0].predicted, rel=1e-3)


def test_doubts_of_gap_and_amplitude_become_that_of_the_prediction() -> None:
    """One σ of the amplitude is that share of e; one of the gap is what e differs by at that gap, to first order."""
    case = load_case("bench-single")
    sharp = emf()
    blurred = replace(sharp, line=9000, amplitude_uncertainty=0.05 * 0.5e-3)
    moved = replace(sharp, line=9001, gap_uncertainty=0.1e-3)
    ends = [emf(gap=2.4e-3), emf(gap=2.6e-3)]
    found = study_readings(case, [sharp, blurred, moved, *ends], quality="draft").residuals
    own = found[0].doubt
    assert 0.01 < own / found[0].predicted < 0.15
    assert math.hypot(0.05 * found[0].predicted, own) == pytest.approx(found[1].doubt, rel=1e-3)
    slope = abs(found[4].predicted - found[3].predicted) / 2
    # the larger swing's S goes with the gap a little differently from the small one's that moves it
    assert math.sqrt(found[2].doubt**2 - own**2) == pytest.approx(slope, rel=0.05)
    assert found[2].sigma == pytest.approx(found[2].difference / math.hypot(found[2].doubt, 1e-4), rel=1e-9)


def test_readings_of_one_gap_share_its_doubt() -> None:
    one, two = emf(gap_uncertainty=1e-4), emf("emf peak", gap_uncertainty=1e-4)
    other = emf(gap=3e-3, gap_uncertainty=1e-4)
    study = study_readings(load_case("bench-single"), [one, two, other], quality="draft")
    assert isinstance(study.model, LawModel)
    assert gap_name(one) == gap_name(two) != gap_name(other)
    assert amplitude_name(one) == amplitude_name(two)
    names = [p.name for p in study.model.doubts([one, two, other])]
    assert names == ["sensitivity 1", gap_name(one), gap_name(other)]


def test_turns_are_found_again_by_a_flux_step() -> None:
    """Readings computed for 4500 turns, held against the case of 5000: the fit tells them."""
    case = load_case("bench-single", {"coil.turns": 4500})
    asked = [emf(), emf(gap=3e-3), flux("magnets out")]
    true = study_readings(case, asked, quality="draft").residuals
    read = [replace(r, value=x.predicted, uncertainty=0.01 * x.predicted) for r, x in zip(asked, true, strict=True)]
    study = study_readings(load_case("bench-single"), read, ["turns"], quality="draft")
    assert study.fit is not None
    assert study.fit.fitted[0].value == pytest.approx(4500, rel=1e-3)
    assert study.residuals[0].sigma < -1


@pytest.mark.slow
def test_a_build_takes_volts_but_no_flux_steps() -> None:
    case = load_case("blade-six")
    with pytest.raises(CaseError, match=r"line 11.*another build"):
        study_readings(case, [flux("magnets out")], quality="draft")
    found = study_readings(case, [emf()], quality="draft").residuals[0]
    whole = solve(case, quality="draft").with_({"string.1.gap": "2.5 mm"})
    loop = whole.loop(1, 0.5e-3)
    volts = loop.sensitivity * 2 * math.pi * 196 * 0.5e-3 / math.sqrt(2) * math.hypot(1, loop.second, loop.third)
    assert found.predicted == pytest.approx(volts, rel=2e-3)


def test_shipped_readings_agree() -> None:
    study = compare_readings(load_case("bench-single"), "bench-single-readings", quality="draft")
    assert max(abs(x.sigma) for x in study.residuals) < 3
    assert study.plot().get_xlabel()


@pytest.mark.parametrize(("line", "says"), [
    ("emf rms,1,2.5 mm,,196 Hz,,,,20 mV,1 %", '"amplitude": it is empty'),
    ("emf rms,1,2.5 mm,,dc,0.5 mm,,,20 mV,1 %", '"frequency".*how often'),
    ("emf rms,1,2.5 mm,,196 Hz,0.5 V,,,20 mV,1 %", '"amplitude".*not a length'),
    ("emf rms,2,2.5 mm,,196 Hz,0.5 mm,,,20 mV,1 %", "strings 1 to 1"),
    ("emf rms,1,2.5 mm,,196 Hz,0.5 mm,80 %,,20 mV,1 %", "up to half of the amplitude"),
    ("emf rms,1,2.5 mm,1 V,196 Hz,0.5 mm,,,20 mV,1 %", '"gap uncertainty".*not a length'),
    ("emf rms,1,2.5 mm,,196 Hz,0.5 mm,,,-6 dB,1 %", '"value".*a voltage'),
    ("emf rms,1,2.5 mm,,196 Hz,0.5 mm,,turned over,20 mV,1 %", "no use for"),
    ("emf peak,1,1 mm,,196 Hz,2 mm,,,20 mV,1 %", "swings up to"),
    ("flux step,,,,,,,thrown,60 mWb,1 %", "magnets out or turned over"),
    ("flux step,,,,,,,magnets out,60 mT,1 %", "not a flux"),
    ("flux step,,,,,,,,60 mWb,1 %", '"step": it is empty'),
])
def test_what_cannot_be_is_refused(line: str, says: str, tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_text(HEAD + line, encoding="utf-8")
    with pytest.raises(CaseError, match=says) as refused:
        compare_readings(load_case("bench-single"), str(path), quality="draft")
    assert "\n" not in str(refused.value)


def test_a_pickup_without_a_magnet_is_refused() -> None:
    with pytest.raises(InputError, match="magnetises"):
        study_readings(load_case("bench-single", {"pole.1.part.1.charge": 0}), [flux("magnets out")], quality="draft")


def test_magnets_are_not_fitted_to_their_flux() -> None:
    with pytest.raises(CaseError, match="does not go with --fit"):
        study_readings(load_case("bench-single"), [flux("magnets out")], ["charge"], quality="draft")
