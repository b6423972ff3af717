"""The pickup as a two-terminal network.

    Z(f) = (R + jω L_c) ∥ 1/(jω C (1 − j tan δ)) ∥ 1/(jω C_l),   L_c(f) = L(f) − j R_e(f)/ω

R is the wire's resistance, R_e what eddy currents add to it, C the capacitance of the winding, tan δ the loss of
its insulation, C_l the capacitance of the lead up to the controls, which a meter at its end sees as well. The lead's
own resistance, some tenths of an ohm, and the loss of its insulation are left out. Resonance is the peak of |Z|;
there Q = |Z| ω₀ (C + C_l), which for a coil with a resistor across it is |Z| over the reactance of either branch.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar

from stringflux.geometry.arrays import Array, ComplexArray

from .ladder import BRANCHES, Ladder, fit_ladder

FINE_BRANCHES = 6
PEAK = (0.65, 1.1)
"""What the unloaded peak may have of the |Z| computed.

Of two measured units one has 0.67 of a like build with its sheets and capacitance, 319 kΩ, the other 0.75 of a like
row, 851 kΩ; why is not known (docs/method.md, 19). The other end is without the enamel's loss.
"""
SEARCH = (50.0, 500e3)  # Hz, where resonances are looked for


@dataclass(frozen=True, kw_only=True)
class Resonance:
    """Peak of |Z|: its frequency in Hz, |Z| there in Ω, and Q."""

    frequency: float
    magnitude: float
    quality: float

    @property
    def magnitude_band(self) -> tuple[float, float]:
        """Range of |Z| there, Ω, by :data:`PEAK`; that of Q goes with it."""
        return PEAK[0] * self.magnitude, PEAK[1] * self.magnitude


@dataclass(frozen=True, kw_only=True, eq=False)
class CoilCircuit:
    """A coil at its terminals; make one by :func:`coil_circuit`.

    Attributes
    ----------
    frequency : array (n,)
        Hz, rising.
    inductance : complex array (n,)
        L_c = L − j R_e/ω at those, H.
    resistance : float
        Of the wire at direct current, Ω.
    capacitance : float
        Of the winding, F.
    loss : float
        tan δ of that capacitance.
    lead : float
        Capacitance of the lead at the terminals, F.
    ladder : Ladder
        The small circuit fitted to `inductance`.
    fine : Ladder
        One of more terms, from which values between the computed frequencies are taken.
    """

    frequency: Array
    inductance: ComplexArray
    resistance: float
    capacitance: float
    loss: float = 0.0
    lead: float = 0.0
    ladder: Ladder
    fine: Ladder

    def inductance_at(self, frequency: Array) -> ComplexArray:
        """L_c at any frequencies from 0 Hz: the fine ladder, corrected by its error at the computed frequencies.

        Between these the correction runs straight over log f; beyond them it stays.
        """
        f = np.asarray(frequency, dtype=float)
        correction = self.inductance / self.fine.at(self.frequency)
        at = np.log(np.clip(f, self.frequency[0], self.frequency[-1]))
        known = np.log(self.frequency)
        between = np.interp(at, known, correction.real) + 1j * np.interp(at, known, correction.imag)
        return np.asarray(self.fine.at(f) * between)

    def series(self, frequency: Array) -> ComplexArray:
        """R + jω L_c: the winding without its capacitance, Ω."""
        f = np.asarray(frequency, dtype=float)
        return self.resistance + 2j * np.pi * f * self.inductance_at(f)

    def shunt(self, frequency: Array) -> ComplexArray:
        """Admittance of the capacitance of winding and lead, S."""
        across = self.capacitance * (1 - 1j * self.loss) + self.lead
        return 2j * np.pi * np.asarray(frequency, dtype=float) * across

    def impedance(self, frequency: Array) -> ComplexArray:
        """Z at the terminals, Ω."""
        return 1 / (1 / self.series(frequency) + self.shunt(frequency))

    def ladder_impedance(self, frequency: Array) -> ComplexArray:
        """Z of the small circuit, Ω."""
        f = np.asarray(frequency, dtype=float)
        return 1 / (1 / (self.resistance + 2j * np.pi * f * self.ladder.at(f)) + self.shunt(f))

    def ladder_error(self) -> float:
        """Largest relative error of the small circuit's Z between the first and the last frequency."""
        f = np.geomspace(self.frequency[0], self.frequency[-1], 400)
        z = self.impedance(f)
        return float(np.max(np.abs(self.ladder_impedance(f) / z - 1)))

    def resonance(self) -> Resonance | None:
        """The unloaded resonance, or None where |Z| has no peak."""
        peak = highest(lambda f: np.abs(self.impedance(f)))
        if peak is None:
            return None
        frequency, magnitude = peak
        return Resonance(frequency=frequency, magnitude=magnitude,
                         quality=magnitude * 2 * np.pi * frequency * (self.capacitance + self.lead))


def coil_circuit(*, frequency: Array, inductance: ComplexArray, resistance: float, capacitance: float,
                 loss: float = 0.0, lead: float = 0.0, branches: int = BRANCHES) -> CoilCircuit:
    """Check the numbers, fit the small circuit, and give both.

    Raises
    ------
    ValueError
        If a number is not finite, a frequency not above the one before, or the coil would give energy away.

    Examples
    --------
    A 4.4 H coil with 319 kΩ across it and 96.7 pF resonates at 7.7 kHz.

    >>> f = np.geomspace(20.0, 20e3, 12)
    >>> coil = coil_circuit(frequency=f, inductance=4.4 / (1 + 2j * np.pi * f * 4.4 / 319e3), resistance=1.0,
    ...                     capacitance=96.7e-12)
    >>> top = coil.resonance()
    >>> round(top.frequency), round(top.magnitude / 1e3), round(top.quality, 2)
    (7716, 319, 1.5)
    """
    f, l = np.asarray(frequency, dtype=float), np.asarray(inductance, dtype=complex)
    if f.ndim != 1 or f.shape != l.shape or f.size < 1 or not (np.isfinite(f).all() and np.isfinite(l).all()):
        raise ValueError("frequency and inductance: two equally long rows of finite numbers are needed")
    if f[0] <= 0 or (np.diff(f) <= 0).any():
        raise ValueError("frequency: received one that is not above 0 and the one before; write them rising")
    if (l.real <= 0).any() or (l.imag > 1e-4 * l.real).any():
        raise ValueError("inductance: received one below 0, or with a loss below 0; L − jR/ω is meant")
    if not (0 <= resistance < np.inf and 0 < capacitance < np.inf and 0 <= loss < np.inf and 0 <= lead < np.inf):
        raise ValueError(f"received resistance {resistance} Ω, capacitance {capacitance} F, loss {loss}, lead {lead} "
                         "F; write finite numbers, the capacitance above 0")
    return CoilCircuit(frequency=f, inductance=l, resistance=resistance, capacitance=capacitance, loss=loss,
                       lead=lead, ladder=fit_ladder(f, l, branches), fine=fit_ladder(f, l, FINE_BRANCHES, good=1e-5))


def highest(curve: Callable[[Array], Array], within: tuple[float, float] = SEARCH) -> tuple[float, float] | None:
    """Place and height of a curve's highest point, or None if it is at an end of the band."""
    f = np.geomspace(*within, 1200)
    values = curve(f)
    top = int(np.argmax(values))
    if top in (0, f.size - 1):
        return None
    around = (np.log(f[top - 1]), np.log(f[top + 1]))
    found = minimize_scalar(lambda x: -float(curve(np.array([np.exp(x)]))[0]), bounds=around, method="bounded",
                            options={"xatol": 1e-9})
    return float(np.exp(found.x)), -float(found.fun)
