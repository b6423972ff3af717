"""The pickup with its controls, cable and amplifier: from the strings' voltage to the amplifier's input.

The EMF E stands in series with the winding; at the coil's terminals hang its own capacitance, the tone control
and the volume control, and at the wiper of that the cable and the amplifier:

    E ── R + jω L_c ──┬────────┬──────── R_v (1 − x) ──┬────────┬──── V
                      C    R_t y + C_t               R_v x    R_in ∥ (C_cable + C_in)
                      ┴        ┴                       ┴        ┴

    V/E = 1/(1 + Z_s Y) · 1/(1 + R_v (1 − x) Y_w)

x and y are the shares of the volume's and the tone's resistance (`stringflux.geometry.case.controls` has the tapers),
Y_w the admittance at the wiper, Y all that hangs on Z_s. With a plain coil, a load R_l and x = 1 this is
1/(1 + R/R_l + s (L/R_l + R C) + s² L C) (Paiva et al.).

References
----------
A plain coil with a load: R. C. D. Paiva, J. Pakarinen, V. Välimäki, *J. Audio Eng. Soc.* 60(10) (2012). The rest:
derived here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from scipy.optimize import brentq

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.case.controls import Load, taper_share

from .circuit import highest

BAND = (20.0, 200e3)  # Hz, where peak and corner are looked for
_A_PEAK = 10 ** (0.05 / 20) - 1
"""Of the level at low frequencies, 0.05 dB: what rises over it by less would print as 0.0 dB, and is no peak."""


@dataclass(frozen=True, kw_only=True)
class Network:
    """What hangs on the coil, in SI; a control that is not there has infinite resistance.

    Attributes
    ----------
    volume, volume_share : float
        Resistance, Ω, and the share x of it under the wiper.
    tone, tone_share, tone_capacitor : float
        Resistance, Ω, the share y of it in series with the capacitor, F.
    capacitance : float
        Cable and amplifier, F.
    resistance : float
        Input of the amplifier, Ω.
    """

    volume: float = np.inf
    volume_share: float = 1.0
    tone: float = np.inf
    tone_share: float = 1.0
    tone_capacitor: float = 0.0
    capacitance: float = 0.0
    resistance: float = np.inf

    def wiper(self, frequency: Array) -> ComplexArray:
        """Y_w, S, without the part of the volume control under the wiper where that is nothing."""
        y = 1 / self.resistance + 2j * np.pi * np.asarray(frequency, dtype=float) * self.capacitance
        if np.isfinite(self.volume) and self.volume_share > 0:
            y = y + 1 / (self.volume * self.volume_share)
        return y

    def above(self) -> float:
        """R_v (1 − x), Ω."""
        return self.volume * (1 - self.volume_share) if np.isfinite(self.volume) else 0.0

    def silent(self) -> bool:
        """Whether the wiper is on ground."""
        return bool(np.isfinite(self.volume) and self.volume_share == 0)

    def admittance(self, frequency: Array) -> ComplexArray:
        """What controls, cable and amplifier are at the coil's terminals, S."""
        if self.silent():
            y = np.full(np.shape(frequency), 1 / self.volume, dtype=complex)
        else:
            wiper = self.wiper(frequency)
            y = wiper / (1 + self.above() * wiper)
        if np.isfinite(self.tone):
            c = 2j * np.pi * np.asarray(frequency, dtype=float) * self.tone_capacitor
            y = y + c / (1 + c * self.tone * self.tone_share)
        return y

    def divider(self, frequency: Array) -> ComplexArray:
        """Voltage at the wiper over that at the coil's terminals."""
        if self.silent():
            return np.zeros(np.shape(frequency), dtype=complex)
        return 1 / (1 + self.above() * self.wiper(frequency))


NO_LOAD = Network()


def network(load: Load, *, volume_setting: float | None = None, tone_setting: float | None = None) -> Network:
    """The network of a case's load, with other settings of its controls if these are given (0 … 1)."""
    volume = load.volume_setting if volume_setting is None else volume_setting
    tone = load.tone_setting if tone_setting is None else tone_setting
    whole = Network(
        volume=load.volume, volume_share=taper_share(volume, load.volume_taper),
        tone=load.tone, tone_share=taper_share(tone, load.tone_taper), tone_capacitor=load.tone_capacitor,
        capacitance=load.cable_length * load.cable_capacitance + load.input_capacitance,
        resistance=load.input_resistance,
    )
    if load.controls == "none":
        return replace(whole, volume=np.inf, tone=np.inf)
    return whole if load.controls == "volume and tone" else replace(whole, tone=np.inf)


@dataclass(frozen=True, kw_only=True)
class LoadResponse:
    """What a response is known by.

    Attributes
    ----------
    level : float
        dB of V/E at low frequencies; −inf where the volume is shut.
    resonance : float or None
        Frequency of the peak, Hz, if there is one.
    peak : float or None
        Its height over the level, dB.
    corner : float or None
        Where the response has first fallen 3 dB under the level, Hz.
    """

    level: float
    resonance: float | None
    peak: float | None
    corner: float | None


class LoadSource(Protocol):
    """What a load asks of a coil, or of several connected: :class:`.CoilCircuit` and :class:`.CoilNetwork`."""

    def series(self, frequency: Array) -> ComplexArray:
        """EMF over the current into a short circuit, Ω, of frequencies (n,) in Hz."""
        ...

    def shunt(self, frequency: Array) -> ComplexArray:
        """Admittance across it at the terminals, S."""
        ...


@dataclass(frozen=True, kw_only=True, eq=False)
class LoadedCoil:
    """A coil with what hangs on it; called with frequencies in Hz it gives V/E.

    Examples
    --------
    >>> from stringflux.postprocess.coil.circuit import coil_circuit
    >>> coil = coil_circuit(frequency=np.array([100.0]), inductance=np.array([2.5 + 0j]), resistance=6e3,
    ...                     capacitance=100e-12)
    >>> loaded = LoadedCoil(coil=coil, network=Network(capacitance=470e-12, resistance=200e3))
    >>> found = loaded.response()
    >>> round(found.resonance), round(found.peak, 1), round(found.corner)
    (4090, 7.8, 6444)
    """

    coil: LoadSource
    network: Network = NO_LOAD

    def __call__(self, frequency: Array) -> ComplexArray:
        """V/E (n,) at frequencies (n,) in Hz, 0 included."""
        hung = self.coil.shunt(frequency) + self.network.admittance(frequency)
        return self.network.divider(frequency) / (1 + self.coil.series(frequency) * hung)

    def response(self) -> LoadResponse:
        """Level, peak and corner."""
        return response_of(self)


def response_of(curve: Callable[[Array], ComplexArray]) -> LoadResponse:
    """Level, peak and corner of V/E, a function of frequencies (n,) in Hz."""
    low = float(abs(curve(np.zeros(1))[0]))
    if low == 0:
        return LoadResponse(level=-np.inf, resonance=None, peak=None, corner=None)
    top = highest(lambda f: np.abs(curve(f)), BAND)
    if top is not None and top[1] < low * (1 + _A_PEAK):
        top = None
    return LoadResponse(level=20 * np.log10(low), resonance=top and top[0],
                        peak=None if top is None else 20 * float(np.log10(top[1] / low)), corner=_corner(curve, low))


def _corner(curve: Callable[[Array], ComplexArray], low: float) -> float | None:
    f = np.geomspace(*BAND, 1200)
    under = np.abs(curve(f)) < low / np.sqrt(2)
    first = int(np.argmax(under))
    if not under[first] or first == 0:
        return None
    return float(brentq(lambda x: abs(curve(np.array([x]))[0]) * np.sqrt(2) - low, f[first - 1], f[first]))
