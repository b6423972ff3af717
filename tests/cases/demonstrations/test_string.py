"""The demonstration "string": its e against other solves, and against its own flux."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.demonstrations.settings import LessonSettings
from stringflux.cases.demonstrations.string import HARMONICS, driven, from_round
from stringflux.cases.pickup import Pickup
from stringflux.geometry.errors import CaseError, InputError

pytestmark = pytest.mark.usefixtures("shared_solutions")

STEP = 100e-6
"""Of the finite difference, m: its own error is 1e-3 here; by shorter steps the last digits of two solves show."""


@pytest.fixture(scope="module")
def bench() -> Pickup:
    return solve(load_case("bench-single"), quality="draft")


def test_voltage_is_that_of_full_solves_at_displaced_strings() -> None:
    """Steel without memory, so that a place has one λ: −Δλ/Δz of solves with other gaps, times the speed there."""
    still = solve(load_case("bench-single", {"strings.state": "curve"}), quality="draft")
    found, _ = driven(still, LessonSettings(amplitude=0.4e-3, frequency=200.0))
    w = 2 * np.pi * found.frequency
    for k in (3, 10, 25, 40, 60):
        z, v = found.place[k], found.amplitude * w * np.cos(w * found.time[k])
        there = [still.with_({"string.1.gap": found.gap + z + d}).prediction(maps=False).strings[0].linkage
                 for d in (-STEP, STEP)]
        slope = (there[1] - there[0]) / (2 * STEP)
        assert found.emf[k] == pytest.approx(-slope * v, rel=2e-3, abs=1e-3 * np.max(np.abs(found.emf)))
        middle = still.with_({"string.1.gap": found.gap + z}).prediction(maps=False).strings[0].linkage
        assert found.linkage[k] == pytest.approx(middle, rel=1e-3)
        assert found.slope[k] == pytest.approx(slope, rel=1e-2)


@pytest.mark.parametrize("case", ["bench-single", "bass-four"])
def test_area_under_the_voltage_is_the_flux(case: str) -> None:
    """∫ e dt over half a swing = −Δλ, by the trapezoid rule over the series as it is written."""
    found, _ = driven(solve(load_case(case), quality="draft"), LessonSettings())
    quarter = (found.time.size - 1) // 8
    half = slice(quarter, 3 * quarter + 1)
    area = np.trapezoid(found.emf[half], found.time[half])
    change = found.linkage[3 * quarter] - found.linkage[quarter]
    assert area == pytest.approx(-change, rel=1e-3)
    assert found.place[quarter] == pytest.approx(found.amplitude, rel=1e-6)
    assert np.sum(found.emf[:-1]) == pytest.approx(0.0, abs=1e-6 * np.sum(np.abs(found.emf)))


def test_loop_is_that_of_the_pickup(bench: Pickup) -> None:
    """S of `pickup.loop` at that amplitude is the voltage's first harmonic over the speed, memory and all."""
    found, _ = driven(bench, LessonSettings(amplitude=0.3e-3))
    n = (found.time.size - 1) // 2
    first = 2 * abs(np.fft.fft(found.emf[:n])[1]) / n
    assert first / found.speed == pytest.approx(bench.loop(1, 0.3e-3).sensitivity, rel=1e-3)


def test_series_is_exact_for_a_few_harmonics() -> None:
    theta = 2 * np.pi * np.arange(1, 65) / 64
    time = np.linspace(0, 2e-2, 50)
    linkage, emf = from_round(1 + np.sin(theta) - 0.2 * np.cos(3 * theta), 100.0, time)
    w = 2 * np.pi * 100.0
    np.testing.assert_allclose(linkage, 1 + np.sin(w * time) - 0.2 * np.cos(3 * w * time), atol=1e-12)
    np.testing.assert_allclose(emf, -w * np.cos(w * time) - 0.6 * w * np.sin(3 * w * time), atol=1e-9)


def test_what_the_series_leaves_out_is_small(bench: Pickup) -> None:
    found, swung = driven(bench, LessonSettings())
    theta = 2 * np.pi * np.arange(1, 129) / 64
    lines = np.abs(np.fft.rfft(swung.along(found.amplitude * np.sin(theta))[64:]))
    assert np.max(lines[HARMONICS + 1:]) < 1e-4 * lines[1]


def test_twice_the_turns(bench: Pickup) -> None:
    one, _ = driven(bench, LessonSettings())
    two, _ = driven(bench.with_({"coil.turns": 10000}), LessonSettings())
    np.testing.assert_allclose(two.emf, 2 * one.emf, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(two.per_turn, one.per_turn, rtol=1e-9)


def test_sense_of_winding_turns_every_sign(bench: Pickup) -> None:
    one, _ = driven(bench, LessonSettings())
    other, _ = driven(bench.with_({"coil.winding": "clockwise"}), LessonSettings())
    np.testing.assert_allclose(other.emf, -one.emf, rtol=1e-9, atol=1e-15)
    assert one.magnet_flux is not None
    assert other.magnet_flux == pytest.approx(-one.magnet_flux)
    assert one.magnet_flux > 0, "north up, counter-clockwise from above"
    assert float(np.mean(one.linkage)) > 0, "the string gathers the magnet's flux"


def test_near_is_louder_and_large_is_less_pure(bench: Pickup) -> None:
    found, _ = driven(bench, LessonSettings())
    assert found.near.sensitivity > found.small.sensitivity > found.far.sensitivity
    assert found.large.second > found.loop.second > found.small.second
    nearer = bench.with_({"string.1.gap": found.gap - found.nearer}).loop(1).sensitivity
    assert found.near.sensitivity == pytest.approx(nearer, rel=5e-3)


def test_plucked_goes_by_the_signal(bench: Pickup) -> None:
    found, _ = driven(bench, LessonSettings(drive="pluck"))
    signal = bench.signal()[0].signal
    np.testing.assert_array_equal(found.emf, signal.voltage[: found.emf.size])
    area = np.trapezoid(found.emf, found.time)
    assert found.linkage[-1] - found.linkage[0] == pytest.approx(-area, rel=1e-9)


def test_refusals(bench: Pickup) -> None:
    with pytest.raises(InputError, match="string"):
        bench.demonstrate("string", string=3)
    with pytest.raises(CaseError, match="amplitude"):
        bench.demonstrate("string", amplitude=5e-3)
    with pytest.raises(CaseError, match="above 0"):
        bench.demonstrate("string", frequency=-1.0)
    with pytest.raises(CaseError, match="demonstrations are"):
        bench.demonstrate("strnig")
    with pytest.raises(CaseError, match="nothing magnetises the strings"):
        bench.with_({"pole.1.part.1.charge": 0}).demonstrate("string")
