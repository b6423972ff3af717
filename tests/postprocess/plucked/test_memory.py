"""Memory of a moving string by its places: laws of leashes, loops that were fitted, decay by heat."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from rigs.source_tree import CLOSE_BASS
from stringflux.cases import Pluck, load_case, solve
from stringflux.postprocess.plucked.memory import NONE, SwingMemory, swing_memory
from stringflux.postprocess.plucked.sensed import SensedString
from stringflux.postprocess.plucked.surface import surface
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.loop import SwungString, first_harmonic

LEASHED = SwingMemory(shares=np.array([0.6, 0.4]), leashes=np.array([0.0, 0.3]))


@lru_cache
def sensed(name: str, string: int) -> tuple[SensedString, SwungString]:
    pickup = solve(load_case(name), quality="draft")
    shape = pickup.solved.strings[string].shape
    field = pickup.solved.among(pickup.solved.solution().field).over(string + 1)
    swung = SwungString(field, shape, layers_of(shape, pickup.solved.materials))
    return pickup.sensed()[string], swung


def test_leash() -> None:
    """By hand: pulled up to 1, let down by twice the leash, then dragged."""
    moved = np.array([0.0, 0.2, 1.0, 0.8, 0.4, -0.5, -0.4, 0.0])
    np.testing.assert_allclose(LEASHED.followed(moved)[0], moved)
    np.testing.assert_allclose(LEASHED.followed(moved)[1], [0.0, 0.0, 0.7, 0.7, 0.7, -0.2, -0.2, -0.2])


def test_leash_step_by_step() -> None:
    rng = np.random.default_rng(5)
    moved = np.cumsum(rng.normal(size=400)) / 8
    place, slow = 0.0, []
    for x in moved:
        place = min(max(place, x - 0.3), x + 0.3)
        slow.append(place)
    np.testing.assert_allclose(LEASHED.followed(moved)[1], slow)


def test_straight_map() -> None:
    """λ = z: one share on a leash r takes part only in swings beyond r."""
    plain = surface(np.array([-1.0, 1.0]), np.array([-1.0, 1.0]), np.array([[-1.0, 1.0]] * 2))
    angle = np.arange(1, 129) * 2 * np.pi / 64

    def S(amplitude: float) -> complex:
        moved = amplitude * np.sin(angle)
        return first_harmonic(LEASHED.linkage(plain, 0 * moved, moved)[64:], amplitude)

    assert S(0.2) == pytest.approx(0.6)
    assert abs(S(0.9)) > 0.8
    assert S(0.9).imag < 0  # λ comes late
    # the describing function of play, r/A = 1/3 (textbooks of control, from memory)
    q = 1 / 3
    real = (np.pi / 2 + np.arcsin(1 - 2 * q) + 2 * (1 - 2 * q) * np.sqrt(q * (1 - q))) / np.pi
    assert S(0.9).real == pytest.approx(0.6 + 0.4 * real, rel=2e-3)
    assert S(0.9).imag == pytest.approx(-0.4 * 4 * q * (1 - q) / np.pi, rel=2e-3)


@pytest.mark.slow
@pytest.mark.parametrize(("name", "string"), [("bench-single", 0), ("baritone-six", 0), (CLOSE_BASS, 2)])
def test_fitted_loops(name: str, string: int) -> None:
    """S, lag and H2 at amplitudes between those fitted."""
    heard, swung = sensed(name, string)
    over, angle = heard.coils[0].surface, np.arange(1, 129) * 2 * np.pi / 64
    light = swung.light()
    assert abs(heard.coils[0].slope()) == pytest.approx(light.sensitivity, rel=5e-3)
    for amplitude in (0.1e-3, 0.35e-3, 0.8e-3):
        loop, moved = swung.loop(amplitude), amplitude * np.sin(angle)
        linkage = heard.memory.linkage(over, 0 * moved, moved)[64:]
        found = first_harmonic(linkage, amplitude)
        assert abs(found) == pytest.approx(loop.sensitivity, rel=5e-3)
        assert -np.angle(-found) == pytest.approx(loop.lag, abs=4e-3)
        lines = np.abs(np.fft.rfft(linkage))
        assert 2 * lines[2] / lines[1] == pytest.approx(loop.second, rel=0.15)


def test_voltage_is_the_derivative() -> None:
    heard, _ = sensed("bench-single", 0)
    made = heard.play(Pluck(displacement=0.5e-3), seconds=0.05)
    linkage = heard.memory.linkage(heard.coils[0].surface, made.across, made.up)
    np.testing.assert_allclose(np.cumsum(made.voltage[:-1] + made.voltage[1:])[::40] / (2 * made.rate),
                               -(linkage[1:] - linkage[0])[::40], atol=0.01 * np.ptp(linkage))


def test_heat_damps() -> None:
    """A second of ringing with heat ends lower; the energy it takes is what the loops say."""
    heard, swung = sensed("bench-single", 0)
    loop = swung.loop(0.5e-3)
    energy, f = np.array([1e-4]), np.array([200.0])
    rate = heard.memory.rates(energy, np.array([0.5e-3]), f)
    assert rate[0] == pytest.approx(200 * loop.heat / 2e-4, rel=0.02)
    assert heard.memory.rates(energy, np.array([1e-6]), f)[0] < 1e-3 * rate[0]
    assert not np.any(NONE.rates(energy, np.array([0.5e-3]), f))
    assert not np.any(heard.memory.rates(np.zeros(1), np.zeros(1), f))


def test_no_memory_no_leashes() -> None:
    pickup = solve(load_case("bench-single", {"strings.state": "curve"}), quality="draft")
    assert pickup.sensed()[0].memory is NONE
    assert pickup.sensed()[0].curve_level == 0.0


@pytest.mark.slow
def test_fit_of_what_a_map_is_made_of() -> None:
    """Shares are positive and leave nothing out of a light swing."""
    heard, swung = sensed("baritone-six", 0)
    again = swing_memory(swung, heard.coils[0].surface)
    assert np.all(again.shares >= 0)
    assert again.shares[0] > 0.5
    assert np.sum(again.shares) <= 1.05
