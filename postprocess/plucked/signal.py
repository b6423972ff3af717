r"""From a vibrating string to the voltage of the coil.

Over the row the string moves by y(t) across and z(t) up. With the map λ(y, z) about its rest::

    e(t) = −dλ/dt = −(∂λ/∂y ẏ + ∂λ/∂z ż)

keeps what grows with the excursion (harmonics that the string does not have, one polarisation in the other). The
map is one of a string moved as a whole. A mode bends it, so y and z are each mode's mean over the aperture,
φ̄_n = ∫ w φ_n dx / ∫ w dx, in place of its value over the pole. For small motions that is exact
(:mod:`.string.aperture`); in the terms that grow with the excursion it is an approximation, as good as the string is
straight over the pole.

The map follows the static curve of the steel; what its memory makes of that is in :mod:`.memory`.

Filters H(f), a load or the eddy currents' b(f)/b(0), multiply the spectrum.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.errors import CaseError

from .memory import NONE, SwingMemory
from .modes import FreeVibration, ringing
from .surface import Surface

RATE = 48000.0
"""Samples per second."""
SECONDS = 2.0
RMS_OVER = 0.5
"""The rms value is that of the first half second after the pluck."""

Response = Callable[[Array], ComplexArray]
"""H(f), complex (k,), of frequencies (k,) in Hz."""


@dataclass(frozen=True, kw_only=True, eq=False)
class StringSignal:
    """One plucked string.

    Attributes
    ----------
    rate : float
        Samples per second.
    voltage : array (n,)
        e(t), V.
    across, up : arrays (n,)
        Displacement of the string over the pickup, averaged over the aperture, m.
    linkage : array (n,)
        λ of the string, Wb, of which the open coil's voltage is −dλ/dt.
    """

    rate: float
    voltage: Array
    across: Array
    up: Array
    linkage: Array

    @property
    def time(self) -> Array:
        """t (n,), s."""
        return np.arange(self.voltage.size) / self.rate

    @property
    def peak(self) -> float:
        """Largest |e|, V."""
        return float(np.max(np.abs(self.voltage)))

    @property
    def rms(self) -> float:
        """Of the first half second, V."""
        first = self.voltage[: max(1, int(RMS_OVER * self.rate))]
        return float(np.sqrt(np.mean(first * first)))

    @property
    def excursion(self) -> float:
        """Largest displacement up or down, m."""
        return float(np.max(np.abs(self.up)))


def string_signal(surface: Surface, vibration: FreeVibration, means: Array, *, seconds: float = SECONDS,
                  rate: float = RATE, name: str = "the string", memory: SwingMemory = NONE) -> StringSignal:
    """Voltage of a plucked string at the open coil.

    Parameters
    ----------
    surface : Surface
    vibration : FreeVibration
    means : array (n,)
        φ̄_n of its modes: values over the pickup, averaged over the aperture.
    seconds, rate : float
        How long, and samples per second.
    name : str
        Of the string, for the sentence if it swings too far.
    memory : SwingMemory

    Raises
    ------
    CaseError
        When the string leaves the map (2 mm each way, and 0.3 mm clear of the pole).
    """
    n = round(seconds * rate)
    amplitude = vibration.amplitude * means
    to_y, to_z = vibration.direction
    y, vy = ringing(to_y * amplitude, vibration.frequency_y, vibration.rate, n, rate)
    z, vz = ringing(to_z * amplitude, vibration.frequency_z, vibration.rate, n, rate)
    return moved_signal(surface, (y, vy, z, vz), rate=rate, name=name, memory=memory)


def moved_signal(surface: Surface, motion: tuple[Array, Array, Array, Array], *, rate: float = RATE,
                 name: str = "the string", memory: SwingMemory = NONE) -> StringSignal:
    """Voltage at the open coil of a string that goes y, ẏ, z, ż (n,), m and m/s; else as :func:`string_signal`.

    Raises
    ------
    CaseError
    """
    y, vy, z, vz = motion
    if not surface.holds(y, z):
        raise CaseError(
            f"{name} swings {1e3 * np.max(np.abs(y)):.2f} mm across and {-1e3 * np.min(z):.2f} mm down over the "
            f"pickup, and only {1e3 * surface.y[1]:.2f} and {-1e3 * surface.z[0]:.2f} mm are computed (the pole is "
            "near); move it less, or raise its gap"
        )
    voltage, linkage = np.zeros(y.size), np.zeros(y.size)
    never = 1 - float(np.sum(memory.shares))  # of the metal moves in its memory
    rest = never * surface.linkage(np.zeros(1), np.zeros(1))[0]
    for share, u, v in zip(memory.shares, memory.followed(y), memory.followed(z), strict=True):
        aside, up = _dragged(u), _dragged(v)
        some = np.logical_or(aside, up)
        there, by_y, by_z = surface.everything(u[some], v[some])
        voltage[some] -= share * (by_y * (vy * aside)[some] + by_z * (vz * up)[some])
        linkage += share * there[np.cumsum(some) - 1]  # a share that is not dragged stays where it was
    return StringSignal(rate=rate, voltage=voltage, across=y, up=z, linkage=rest + linkage)


def _dragged(places: Array) -> Array:
    """Whether a share of the metal moves at each sample."""
    return np.asarray(np.diff(places, prepend=np.nan) != 0.0)


def through(signal: Array, rate: float, *responses: Response) -> Array:
    """A signal (n,) through filters H(f), each a callable of frequencies (k,) in Hz.

    A quarter second of silence is added for the convolution and cut off again; filters must have died away in it.
    """
    if not responses:
        return signal
    padded = signal.size + int(rate / 4)
    spectrum = np.fft.rfft(signal, padded)
    frequency = np.asarray(np.fft.rfftfreq(padded, 1 / rate), dtype=float)
    for response in responses:
        spectrum = spectrum * response(frequency)
    return np.asarray(np.fft.irfft(spectrum, padded)[: signal.size])


def spectrum(signal: Array, rate: float) -> tuple[Array, Array]:
    """Frequencies (k,), Hz, and amplitudes (k,) in the signal's unit, rms, as seen through a Hann window."""
    window = np.hanning(signal.size)
    lines = np.abs(np.fft.rfft(signal * window)) * (np.sqrt(2) / np.sum(window))
    return np.asarray(np.fft.rfftfreq(signal.size, 1 / rate), dtype=float), lines


def distortion(surface: Surface, excursions: Array, memory: SwingMemory = NONE) -> Array:
    """H2 and H3 (2, k) of a string that swings ± excursions (k,) m up and down, as parts of H1 in the voltage.

    λ(z) of z = a cos θ has the harmonics λ_n, and e those times n.

    Examples
    --------
    For λ = z + c z² the second harmonic is c a:

    >>> from stringflux.postprocess.plucked.surface import surface
    >>> s = surface(np.array([-1.0, 1.0]), np.array([-1.0, 0.0, 1.0]), np.array([[-0.7, 0.0, 1.3]] * 2))
    >>> distortion(s, np.array([0.5])).round(6).tolist()
    [[0.15], [0.0]]
    """
    round_ = np.cos(np.arange(128) * 2 * np.pi / 64)  # twice: the first time round memory begins from rest
    lines = np.array([np.abs(np.fft.rfft(memory.linkage(surface, np.zeros(128), a * round_)[64:]))
                      for a in np.atleast_1d(excursions)]).reshape(-1, 33)
    return np.asarray(np.stack([2 * lines[:, 2], 3 * lines[:, 3]]) / lines[:, 1])


def strum(signals: list[Array], rate: float, delay: float = 0.03) -> Array:
    """All strings one after the other, `delay` s apart, the last one heard for as long as the first."""
    late = round(delay * rate)
    out = np.zeros(max(s.size for s in signals) + late * (len(signals) - 1))
    for i, s in enumerate(signals):
        out[i * late: i * late + s.size] += s
    return out
