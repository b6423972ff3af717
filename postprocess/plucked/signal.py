r"""From a vibrating string to the voltage of the coil.

Over the row the string moves by y(t) across and z(t) up. With the map λ(y, z) about its rest::

    e(t) = −dλ/dt = −(∂λ/∂y ẏ + ∂λ/∂z ż)

keeps what grows with the excursion (harmonics that the string does not have, one polarisation in the other). The
map is one of a string moved as a whole. A mode bends it, so y and z are each mode's mean over the aperture,
φ̄_n = ∫ w φ_n dx / ∫ w dx, in place of its value over the pole. For small motions that is exact
(:mod:`.string.aperture`); in the terms that grow with the excursion it is an approximation, as good as the string is
straight over the pole.

The map follows the static curve of the steel. Small motions run on slopes between that and the reversible
one, on which the level differs by −3 … 0.1 dB in the shipped cases.

Filters H(f), a load or the eddy currents' b(f)/b(0), multiply the spectrum.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.polynomial import chebyshev

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.errors import CaseError

from .modes import FreeVibration, ringing

RATE = 48000.0
"""Samples per second."""
SECONDS = 2.0
RMS_OVER = 0.5
"""The rms value is that of the first half second after the pluck."""

Response = Callable[[Array], ComplexArray]
"""H(f), complex (k,), of frequencies (k,) in Hz."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Surface:
    """λ over displacements from rest, as a product of Chebyshev series.

    Attributes
    ----------
    y, z : (float, float)
        Reach of the map, m.
    coefficients : array (ny, nz)
        Wb.
    """

    y: tuple[float, float]
    z: tuple[float, float]
    coefficients: Array

    def linkage(self, y: Array, z: Array) -> Array:
        """λ (n,) at displacements (n,), Wb."""
        return np.asarray(chebyshev.chebval2d(self._unit(y, self.y), self._unit(z, self.z), self.coefficients))

    def slopes(self, y: Array, z: Array) -> tuple[Array, Array]:
        """∂λ/∂y and ∂λ/∂z (n,), V·s/m."""
        c, (u, v) = self.coefficients, (self._unit(y, self.y), self._unit(z, self.z))
        Tu, Tv = _chebyshev(u, c.shape[0]), _chebyshev(v, c.shape[1])
        by_y = 2 / (self.y[1] - self.y[0]) * chebyshev.chebder(c, axis=0)
        by_z = 2 / (self.z[1] - self.z[0]) * chebyshev.chebder(c, axis=1)
        return np.sum((by_y.T @ Tu[:-1]) * Tv, axis=0), np.sum((by_z.T @ Tu) * Tv[:-1], axis=0)

    def holds(self, y: Array, z: Array) -> bool:
        """Whether all displacements lie in the map."""
        return bool(np.min(y) >= self.y[0] and np.max(y) <= self.y[1]
                    and np.min(z) >= self.z[0] and np.max(z) <= self.z[1])

    @staticmethod
    def _unit(x: Array, ends: tuple[float, float]) -> Array:
        return np.asarray((2 * x - ends[0] - ends[1]) / (ends[1] - ends[0]))


def surface(map_y: Array, map_z: Array, linkage: Array) -> Surface:
    """The polynomial through a linkage map at displacements map_y (ny,), map_z (nz,); linkage (ny, nz)."""
    y, z = (float(map_y[0]), float(map_y[-1])), (float(map_z[0]), float(map_z[-1]))
    Vy, Vz = (_chebyshev(Surface._unit(x, ends), len(x)).T for x, ends in ((map_y, y), (map_z, z)))
    return Surface(y=y, z=z, coefficients=np.linalg.solve(Vy, np.linalg.solve(Vz, linkage.T).T))


def _chebyshev(x: Array, count: int) -> Array:
    """T_0 … T_{count−1} at x (n,), (count, n)."""
    out = np.ones((count, x.size))
    out[1:2] = x
    for k in range(2, count):
        out[k] = 2 * x * out[k - 1] - out[k - 2]
    return out


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
    """

    rate: float
    voltage: Array
    across: Array
    up: Array

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
                  rate: float = RATE, name: str = "the string") -> StringSignal:
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
    if not surface.holds(y, z):
        raise CaseError(
            f"{name} swings {1e3 * np.max(np.abs(y)):.2f} mm across and {-1e3 * np.min(z):.2f} mm down over the "
            f"pickup, and only {1e3 * surface.y[1]:.2f} and {-1e3 * surface.z[0]:.2f} mm are computed (the pole is "
            "near); pluck it less, or raise its gap"
        )
    by_y, by_z = surface.slopes(y, z)
    return StringSignal(rate=rate, voltage=-(by_y * vy + by_z * vz), across=y, up=z)


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


def distortion(surface: Surface, excursions: Array) -> Array:
    """H2 and H3 (2, k) of a string that swings ± excursions (k,) m up and down, as parts of H1 in the voltage.

    λ(z) of z = a cos θ has the harmonics λ_n, and e those times n.

    Examples
    --------
    For λ = z + c z² the second harmonic is c a:

    >>> s = surface(np.array([-1.0, 1.0]), np.array([-1.0, 0.0, 1.0]), np.array([[-0.7, 0.0, 1.3]] * 2))
    >>> distortion(s, np.array([0.5])).round(6).tolist()
    [[0.15], [0.0]]
    """
    theta = np.arange(64) * 2 * np.pi / 64
    z = np.multiply.outer(excursions, np.cos(theta))
    lines = np.abs(np.fft.rfft(surface.linkage(np.zeros_like(z), z), axis=1))
    return np.stack([2 * lines[:, 2], 3 * lines[:, 3]]) / lines[:, 1]


def strum(signals: list[Array], rate: float, delay: float = 0.03) -> Array:
    """All strings one after the other, `delay` s apart, the last one heard for as long as the first."""
    late = round(delay * rate)
    out = np.zeros(max(s.size for s in signals) + late * (len(signals) - 1))
    for i, s in enumerate(signals):
        out[i * late: i * late + s.size] += s
    return out
