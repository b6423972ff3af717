"""Readings from the bench: what can be read, under which conditions, and how it compares with a prediction.

A residual is (reading − predicted)/u, u the reading's standard uncertainty. The prediction has doubts of its own,
so that a difference is also given over √(u² + those doubts²).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from stringflux.geometry.arrays import Array


@dataclass(frozen=True, kw_only=True)
class ReadingKind:
    """A kind of reading: words, dimension (a key of the units' kinds, or "level"), conditions needed and allowed."""

    words: str
    dimension: str
    needs: tuple[str, ...] = ()
    allows: tuple[str, ...] = ()


_DRIVEN, _DOUBTED = ("string", "gap", "frequency", "amplitude"), ("amplitude uncertainty", "gap uncertainty")
KINDS: Mapping[str, ReadingKind] = MappingProxyType({
    "field": ReadingKind(words="axial field over a pole", dimension="flux density", needs=("pole", "distance")),
    "probe offset": ReadingKind(words="depth of the sensor behind the probe's surface", dimension="length"),
    "resistance": ReadingKind(words="resistance in series", dimension="resistance",
                              allows=("frequency", "temperature")),
    "inductance": ReadingKind(words="inductance in series", dimension="inductance", needs=("frequency",)),
    "resonance": ReadingKind(words="frequency of the peak", dimension="frequency", allows=("load",)),
    "output": ReadingKind(words="output at a constant drive", dimension="level", needs=("string", "gap")),
    "emf peak": ReadingKind(words="half of the voltage from peak to peak, of a string driven as a sine",
                            dimension="voltage", needs=_DRIVEN, allows=_DOUBTED),
    "emf rms": ReadingKind(words="true rms of the voltage of a string driven as a sine", dimension="voltage",
                           needs=_DRIVEN, allows=_DOUBTED),
    "flux step": ReadingKind(words="N Φ of the magnets, as an integrator counts it when they are drawn out of the "
                                   "coil, or twice that when the coil is turned over", dimension="flux",
                             needs=("step",)),
})
"""What can be read. `output` is relative: dB, or a voltage at a drive that nobody knows; its level is taken out. The
last three are held as they are, in volts and webers."""
EMF = ("emf peak", "emf rms")
STEPS: Mapping[str, float] = MappingProxyType({"magnets out": 1.0, "turned over": 2.0})
"""What is done for a flux step: how many times N Φ of the magnets changes by it."""


FALLING: Mapping[str, ReadingKind] = MappingProxyType({
    "emf peak": ReadingKind(words="a peak of the voltage, without its sign", dimension="voltage",
                            needs=("peak", "height"), allows=("height uncertainty",)),
    "flux step": ReadingKind(words="area under the voltage of one peak, without its sign: N ΔΦ", dimension="flux",
                             needs=("peak",)),
})
"""What can be read of a magnet that falls through a coil."""
BY_HAND: Mapping[str, ReadingKind] = MappingProxyType({
    **FALLING, "emf peak": replace(FALLING["emf peak"], needs=("peak", "speed"), allows=("speed uncertainty",))})
"""What can be read of one that is moved by hand."""
PEAKS = ("first", "second")


@dataclass(frozen=True, kw_only=True)
class BenchLoad:
    """What hangs on the coil while its resonance is looked for: the case's load, or a capacitor and a resistor."""

    own: bool = False
    capacitance: float = 0.0
    resistance: float = float("inf")


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One reading.

    Attributes
    ----------
    line : int
        Of the file, from 1.
    quantity : str
        A key of `KINDS`.
    value, uncertainty : float
        And its standard uncertainty (one σ), SI; `output` in dB (of 1 V where a voltage was read).
    absolute : bool
        Whether an `output` was a voltage.
    pole, string : int or None
        From 1.
    distance, gap : float or None
        From the pole's face to the probe, to the underside of the string, m.
    frequency : float or None
        Hz, of the meter or of the string's swing; None is direct current.
    amplitude : float or None
        Of the string's swing, up and down, m.
    amplitude_uncertainty, gap_uncertainty : float
        Standard uncertainties of both, m.
    step : str
        Of a flux step, a key of `STEPS`.
    peak : str
        Of a falling magnet, one of `PEAKS`.
    height, speed : float or None
        That its middle is let go at over the coil's middle, m; or how fast it is by hand, m/s.
    height_uncertainty, speed_uncertainty : float
        Standard uncertainties of both.
    temperature : float
        Of the copper, °C.
    load : BenchLoad
    """

    line: int
    quantity: str
    value: float
    uncertainty: float
    absolute: bool = False
    pole: int | None = None
    string: int | None = None
    distance: float | None = None
    gap: float | None = None
    frequency: float | None = None
    amplitude: float | None = None
    amplitude_uncertainty: float = 0.0
    gap_uncertainty: float = 0.0
    step: str = ""
    peak: str = ""
    height: float | None = None
    speed: float | None = None
    height_uncertainty: float = 0.0
    speed_uncertainty: float = 0.0
    temperature: float = 20.0
    load: BenchLoad = BenchLoad()

    @property
    def alternating(self) -> bool:
        """Whether it is of the coil with alternating current."""
        hertz = self.frequency is not None
        return self.quantity in ("inductance", "resonance") or (self.quantity == "resistance" and hertz)

    @property
    def label(self) -> str:
        """Where and how it was read, in a few words."""
        parts = []
        if self.pole is not None and self.distance is not None:
            parts.append(f"pole {self.pole} at {self.distance * 1e3:g} mm")
        if self.string is not None and self.gap is not None:
            parts.append(f"string {self.string} at {self.gap * 1e3:g} mm")
        if self.peak:
            parts.append(f"{self.peak} peak")
        if self.height is not None:
            parts.append(f"let go at {self.height * 1e3:g} mm")
        if self.speed is not None:
            parts.append(f"at {self.speed:g} m/s")
        if self.quantity in EMF and not self.peak:
            parts.append(f"± {(self.amplitude or 0.0) * 1e3:g} mm at {self.frequency:g} Hz")
        if self.step:
            parts.append(self.step)
        if self.quantity in ("resistance", "inductance"):
            hertz = self.frequency
            parts.append("d.c." if hertz is None else f"{hertz:g} Hz" if hertz < 1e3 else f"{hertz / 1e3:g} kHz")
            if self.temperature != 20.0:
                parts.append(f"{self.temperature:g} °C")
        if self.quantity == "resonance":
            parts.append(_load_words(self.load))
        return ", ".join([self.quantity, *parts])

    def words(self, value: float, digits: int = 4) -> str:
        """A value of this reading's kind, as people read it."""
        size, unit = _READABLE[self.quantity]
        if self.quantity == "inductance" and self.value < 0.1:
            size, unit = 1e-3, "mH"
        if self.quantity in EMF and abs(self.value) < 1:
            size, unit = 1e-3, "mV"
        if self.quantity == "flux step" and abs(self.value) < 1e-3:
            size, unit = 1e-6, "µWb"
        if self.absolute:
            return f"{10 ** (value / 20) * 1e3:.{digits}g} mV"
        return f"{value / size:.2f} dB" if unit == "dB" else f"{value / size:.{digits}g} {unit}"


def asks_inductance(readings: Sequence[Reading]) -> bool:
    """Whether any of them hangs on the coil's inductance."""
    return any(r.quantity in ("inductance", "resonance") for r in readings)


_READABLE = {"field": (1e-3, "mT"), "probe offset": (1e-3, "mm"), "resistance": (1e3, "kΩ"),
             "inductance": (1.0, "H"), "resonance": (1e3, "kHz"), "output": (1.0, "dB"),
             "emf peak": (1.0, "V"), "emf rms": (1.0, "V"), "flux step": (1e-3, "mWb")}


def _load_words(load: BenchLoad) -> str:
    if load.own:
        return "the case's load"
    parts = [f"{load.capacitance * 1e12:g} pF"] if load.capacitance else []
    parts += [f"{load.resistance / 1e3:g} kΩ"] if np.isfinite(load.resistance) else []
    return " + ".join(parts) or "nothing connected"


def levels(readings: Sequence[Reading]) -> list[list[int]]:
    """Indices of outputs that share one unknown drive: one list per string."""
    groups: dict[int, list[int]] = {}
    for i, r in enumerate(readings):
        if r.quantity == "output" and r.string is not None:
            groups.setdefault(r.string, []).append(i)
    return list(groups.values())


def levelled(readings: Sequence[Reading], predicted: Array) -> Array:
    """The prediction with the best common level (weighted mean difference) in each group of outputs, (n,)."""
    out = np.array(predicted, float)
    for group in levels(readings):
        weight = np.array([readings[i].uncertainty ** -2 for i in group])
        gap = np.array([readings[i].value for i in group]) - out[group]
        out[group] += float(weight @ gap / weight.sum())
    return out


def residuals(readings: Sequence[Reading], predicted: Array) -> Array:
    """(reading − predicted)/u, levels taken out, (n,)."""
    value = np.array([r.value for r in readings])
    u = np.array([r.uncertainty for r in readings])
    return np.asarray((value - levelled(readings, predicted)) / u)


@dataclass(frozen=True, kw_only=True)
class Residual:
    """A reading against its prediction.

    Attributes
    ----------
    reading : Reading
    predicted, difference : float
        In the reading's unit; difference is reading − predicted.
    sigma : float
        The difference over the reading's uncertainty and the prediction's doubts together.
    doubt : float
        One σ of the prediction, in the reading's unit.
    fitted : float or None
        What the fitted model predicts.
    sigma_fitted : float or None
        The difference that is left, over the reading's uncertainty.
    """

    reading: Reading
    predicted: float
    difference: float
    sigma: float
    doubt: float
    fitted: float | None = None
    sigma_fitted: float | None = None
