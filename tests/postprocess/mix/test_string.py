"""One string over several pickups: combs with their signs, the pull of all magnets, partials against the signal."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.postprocess.mix.string import MixedString, mixed, rms
from stringflux.postprocess.plucked.modes import Pluck, VibratingString
from stringflux.postprocess.plucked.sensed import SensedCoil, SensedString
from stringflux.postprocess.plucked.surface import surface

STRING = VibratingString(pitch=110.0, unit_mass=4e-3, length=0.65, diameter=0.4e-3)
PLUCK = Pluck(displacement=1e-4, at=1 / 5, angle=np.pi / 2)
RATE = 48000.0


def over(place: float, sensitivity: float = 5e-3, springs: tuple[float, float] = (0.0, 0.0)) -> SensedString:
    """A string of λ = S z over a pickup of no width."""
    z = np.array([-1e-3, 0.0, 1e-3])
    means = STRING.shapes(np.array([place]), len(STRING.frequencies()))[:, 0]
    coil = SensedCoil(share=1.0, surface=surface(z, z, np.outer(np.ones(3), sensitivity * z)), means=means,
                      reversible=sensitivity)
    return SensedString(string=STRING, bridge_distance=place, point=means, coils=(coil,), springs=springs)


def one(f: Array) -> ComplexArray:
    return np.ones(f.shape, dtype=complex)


def both(first: float = 1.0, second: float = 1.0) -> MixedString:
    places = (over(0.05, first * 5e-3), over(0.6, second * 5e-3))  # as far from either end of the string
    return MixedString(number=1, places=places, ways=((one,), (one,)), pull=places)


def added(f: Array) -> ComplexArray:
    return np.array([one(f), one(f)])


def taken(f: Array) -> ComplexArray:
    return np.array([one(f), -one(f)])


def test_two_places_as_far_from_both_ends() -> None:
    """sin(nπ(L − p)/L) = −(−1)ⁿ sin(nπ p/L): in phase the even partials go, out of phase the odd ones."""
    string = both()
    _, single = replace(string, places=string.places[:1], ways=((one,),)).partials(PLUCK, lambda f: one(f)[None])
    _, plus = string.partials(PLUCK, added)
    _, minus = string.partials(PLUCK, taken)
    small = 1e-9 * np.abs(single).max()
    assert np.abs(plus[1::2]).max() < small
    assert np.abs(minus[0::2]).max() < small
    assert np.allclose(plus[0::2], 2 * single[0::2], atol=small)
    assert np.allclose(minus[1::2], 2 * single[1::2], atol=small)


def test_partials_are_those_of_the_signal() -> None:
    """The line of the fundamental in a second of the signal, where partials die away and are 110 Hz apart."""
    string = both(1.0, 0.3)
    filtered = lambda f: np.array([one(f) * 0.8j, one(f) * (0.2 - 0.1j)])  # noqa: E731
    # a filter of real signals: its line at f, its conjugate at −f, which rfft holds
    f, lines = string.partials(PLUCK, filtered)
    emf = string.voltages(PLUCK, ["neck", "bridge"], seconds=0.2)
    signal = mixed(emf, RATE, filtered)
    t = np.arange(signal.size) / RATE
    basis = np.exp(np.multiply.outer(t, -STRING.damping.rates(f) + 2j * np.pi * f))
    fitted, *_ = np.linalg.lstsq(np.hstack([basis.real, -basis.imag])[2000:-2000], signal[2000:-2000], rcond=None)
    found = np.hypot(fitted[:f.size], fitted[f.size:]) / np.sqrt(2)
    strong = np.abs(lines) > 0.05 * np.abs(lines).max()
    # 90° of phase needs the whole past, which is cut at the pluck: some per cent in the first milliseconds
    assert found[strong] == pytest.approx(np.abs(lines)[strong], rel=0.02)


def test_all_magnets_pull() -> None:
    string = both()
    pull = (over(0.1, springs=(3.0, -6.0)), over(0.3, springs=(2.0, -4.0)))
    pulled = replace(string, pull=pull).vibration(PLUCK)
    parts = [replace(string, pull=(p,)).vibration(PLUCK) for p in pull]
    free = string.vibration(PLUCK)
    for name in ("frequency_y", "frequency_z"):
        moves = sum(getattr(p, name) - getattr(free, name) for p in parts)
        assert np.allclose(getattr(pulled, name) - getattr(free, name), moves, atol=1e-9)
    assert (pulled.frequency_z <= free.frequency_z).all()


def test_levels_add() -> None:
    emf = both().voltages(PLUCK, ["neck", "bridge"], seconds=0.2)
    sum_, difference = (mixed(emf, RATE, way) for way in (added, taken))
    assert np.allclose(sum_ + difference, 2 * emf[0], atol=1e-9 * np.abs(emf).max())
    assert rms(2 * emf[0], RATE, 0.1) == pytest.approx(2 * rms(emf[0], RATE, 0.1))
    assert both().places[0].coils[0].slope() == pytest.approx(5e-3)
