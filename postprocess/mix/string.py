r"""One string over several pickups: every pickup's voltage from the same vibration, and what the mix makes of them.

Pickup i stands p_i from the bridge and sees mode n by φ̄_n,i, the mean of sin(nπ s/L) over its aperture there, with
its sign: where the signs of two pickups differ their voltages take each other away. For small motions, with the
slopes S = (∂λ/∂y, ∂λ/∂z) at rest, a pluck in direction d and the eddy currents' κ_i = b(f)/b(0), the partial at the
amplifier is (of a pickup of several coils a sum over these, κ_i times the coil's weight)::

    V_n = Σ_i H_i(f_n) κ_i(f_n) (S_i·d) φ̄_n,i a_n ω_n

Signals in time go the long way, with all that grows with the excursion. The string is one and the same over all
pickups: the pull of all their magnets moves its partials, ½ Σ_i k_i φ_n(p_i)²/K_n, whether they are heard or not.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array, ComplexArray

from ..plucked.modes import FreeVibration, Pluck, plucked
from ..plucked.sensed import SensedString
from ..plucked.signal import SECONDS, Response

Transfer = Callable[[Array], ComplexArray]
"""H (pickups, k) of frequencies (k,) in Hz, as :meth:`.network.Mix.transfer`."""


@dataclass(frozen=True, kw_only=True, eq=False)
class MixedString:
    """A string and what stands under it.

    Attributes
    ----------
    number : int
        From 1.
    places : tuple of SensedString
        The string over each pickup.
    ways : tuple of tuple of Response
        κ of each coil of each pickup at this string, times the coil's weight in its pickup.
    pull : tuple of SensedString
        The string over all pickups of the instrument, those that are switched off too: their magnets pull.
    """

    number: int
    places: tuple[SensedString, ...]
    ways: tuple[tuple[Response, ...], ...]
    pull: tuple[SensedString, ...]

    def vibration(self, pluck: Pluck) -> FreeVibration:
        """What rings after a pluck, in the pull of all magnets."""
        string = self.pull[0].string
        free = plucked(string, pluck)
        y, z = free.frequency_y, free.frequency_z
        for place in self.pull:
            pulled = plucked(string, pluck, springs=place.springs, spring_at=place.bridge_distance)
            y = y + (pulled.frequency_y - free.frequency_y)
            z = z + (pulled.frequency_z - free.frequency_z)
        return replace(free, frequency_y=y, frequency_z=z)

    def voltages(self, pluck: Pluck, names: Sequence[str], *, seconds: float = SECONDS) -> Array:
        """EMF of each pickup with its eddy currents (pickups, n), V.

        Raises
        ------
        CaseError
            When the string swings out of what is computed over one of the pickups, by its name.
        """
        vibration = self.vibration(pluck)
        return np.array([
            place.emf(vibration, ways=ways, seconds=seconds, name=f"{name}: string {self.number}").voltage
            for place, ways, name in zip(self.places, self.ways, names, strict=True)
        ])

    def partials(self, pluck: Pluck, transfer: Transfer) -> tuple[Array, ComplexArray]:
        """Frequencies (n,), Hz, and V_n (n,) just after the pluck, V rms, for small motions.

        A common factor of −j is left out.
        """
        vibration = self.vibration(pluck)
        f = (vibration.frequency_y + vibration.frequency_z) / 2
        motion = vibration.amplitude * 2 * np.pi * f / np.sqrt(2)
        seen = np.array([place.partials(vibration, f, ways) * motion
                         for place, ways in zip(self.places, self.ways, strict=True)])
        return f, np.asarray(np.sum(transfer(f) * seen, axis=0))


def mixed(voltages: Array, rate: float, transfer: Transfer) -> Array:
    """Voltages at the amplifier (..., n) of EMFs (..., pickups, n).

    As in :func:`.plucked.signal.through` a quarter second of silence is added for the convolution.
    """
    n = voltages.shape[-1]
    padded = n + int(rate / 4)
    f = np.asarray(np.fft.rfftfreq(padded, 1 / rate), dtype=float)
    lines = np.sum(np.fft.rfft(voltages, padded, axis=-1) * transfer(f), axis=-2)
    return np.asarray(np.fft.irfft(lines, padded, axis=-1)[..., :n])


def rms(signal: Array, rate: float, seconds: float) -> float:
    """Of the first seconds of a signal (n,)."""
    first = signal[: max(1, int(seconds * rate))]
    return float(np.sqrt(np.mean(first * first)))
