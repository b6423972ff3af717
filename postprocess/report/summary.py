"""The paragraph at the top of a report and the numbers under it, in plain words."""

from __future__ import annotations

from stringflux.geometry.notes import pitch_words

from ..coil.controls import LoadResponse
from ..coil.hum import HOME_MEAN
from ..records.prediction import StringRecord
from .build import build_words
from .findings import Findings
from .page import KeyFigure
from .words import count, figure, fixed, gauss, henries, hertz, number_list, ohms, percent_range, sentence

EVEN = 1.0  # dB, a difference of loudness that is just heard


def summary(found: Findings) -> str:
    """One paragraph for somebody who reads nothing else."""
    return " ".join(text for text in (_what(found), _strings(found), _coil(found), _around(found)) if text)


def _what(found: Findings) -> str:
    if found.build is not None:
        return build_words(found)
    wire, strings, poles = found.winding.wire.name, found.prediction.strings, found.prediction.poles
    made = (f"{count(len(strings), 'string')} over {count(len(poles), 'pole')}, with a coil of "
            f"{found.winding.turns:g} turns of {wire} wire.")
    return sentence(made)


def name(string: StringRecord) -> str:
    """``string 2 (E2)``."""
    return f"string {string.number} ({pitch_words(string.pitch)})"


def loudest_and_weakest(found: Findings) -> tuple[StringRecord, StringRecord]:
    """By balance at equal velocity, of those that the coil hears."""
    strings = [s for s in found.prediction.strings if s.heard] or found.prediction.strings
    return max(strings, key=lambda s: s.balance), min(strings, key=lambda s: s.balance)


def doubt(string: StringRecord) -> float:
    """The farther end of a string's band of balance, dB from its value."""
    return max(abs(end - string.balance) for end in string.balance_band)


def _strings(found: Findings) -> str:
    strings = found.prediction.strings
    heard = [s for s in strings if s.heard]
    if not heard:
        return "No string moving up and down makes a voltage in it." if found.case.is_magnetised else (
            "Nothing in it is magnetised, so the strings make no voltage.")
    top, low = loudest_and_weakest(found)
    volts = f"{figure(1e3 * top.sensitivity)} mV"
    if len(strings) == 1:
        place = "its pole" if top.pole else "the pickup"
        return f"Moving up and down at one metre per second over {place}, the string makes {volts}."
    told = (f"Moving at the same speed, {name(top)} is the loudest with {volts} per metre per second, and "
            f"{name(low)} "
            f"the weakest, {fixed(-low.balance, 1)} dB below it (give or take {fixed(doubt(low), 1)} dB).")
    if len(heard) < len(strings):
        silent = [s.number for s in strings if not s.heard]
        told += f" Moving up and down string {number_list(silent)} {'are' if len(silent) > 1 else 'is'} not heard."
    force = [s.balance_force for s in heard]
    loud, weak = heard[force.index(max(force))], heard[force.index(min(force))]
    spread = max(force) - min(force)
    if spread < EVEN:
        return f"{told} Plucked with the same force, all strings lie within {fixed(spread, 1)} dB."
    return (f"{told} Plucked with the same force, {name(loud)} leads and {name(weak)} is {fixed(spread, 1)} dB under "
            "it.")


def _coil(found: Findings) -> str:
    kind = "measured" if found.resistance_measured else "computed"
    coil = "The coil has" if len(found.windings) == 1 else "At its terminals the pickup has"
    told = (f"{coil} {ohms(found.resistance[1])} ({kind}, {found.winding.temperature:g} °C) and "
            f"{henries(found.prediction.coil.inductance)}.")
    top, own = found.circuit.resonance(), next(iter(found.responses().values()))
    if top is not None:
        told += f" Alone it resonates at {hertz(top.frequency)}"
        told += f"; {_loaded(own)}." if own.resonance else "; with its load the resonance is flattened."
    return told


def _loaded(own: LoadResponse) -> str:
    return (f"with controls, cable and amplifier as in the case the peak moves to {hertz(own.resonance or 0.0)}, "
            f"{fixed(own.peak or 0.0, 1)} dB high")


def _around(found: Findings) -> str:
    told = f"In the field of an average home, {HOME_MEAN * 1e6:g} µT, it hums with up to {_hum(found)}."
    if not found.pulls:
        return told
    shifts = {p.number: max((p.detuning.cents_z, p.detuning.cents_y), key=abs) for p in found.pulls}
    worst = max(shifts, key=lambda n: abs(shifts[n]))
    if abs(shifts[worst]) < 1:
        return f"{told} The magnets detune no string by more than a cent."
    return f"{told} The magnets detune string {worst} the most, by {fixed(shifts[worst], 1)} cents."


def _hum(found: Findings) -> str:
    volts = [found.hum.voltage(HOME_MEAN, f) for f in (50.0, 60.0)]
    return f"{figure(1e3 * max(volts), 2)} mV"


def key_figures(found: Findings) -> tuple[KeyFigure, ...]:
    """The numbers that people ask for first."""
    p = found.prediction
    low, nominal, high = found.resistance
    without = "its poles" if found.build is None else "steel and magnets"
    out = [
        KeyFigure(name="DC resistance", value=ohms(found.resistance[1]),
                  under=f"measured, at {found.winding.temperature:g} °C" if found.resistance_measured
                  else f"wire's tolerance {percent_range(low, nominal, high)}"),
        KeyFigure(name="Inductance", value=henries(p.coil.inductance),
                  under=f"{henries(p.coil.inductance_air)} without {without}"),
        *_resonances(found),
        _field(found),
        *_levels(found),
        KeyFigure(name=f"Hum at {HOME_MEAN * 1e6:g} µT", value=_hum(found), under="60 Hz, worst direction"),
    ]
    if found.pulls:
        worst = max(found.pulls, key=lambda q: abs(q.pull.force_z))
        out.append(KeyFigure(name="Strongest pull", value=f"{figure(1e3 * abs(worst.pull.force_z), 2)} mN",
                             under=f"on string {worst.number}"))
    return tuple(out)


def _field(found: Findings) -> KeyFigure:
    """The strongest field over a pole, or where there is none at a string."""
    p = found.prediction
    if not p.poles:
        string = max(p.strings, key=lambda s: abs(s.bias[2]))
        return KeyFigure(name=f"Field at string {string.number}", value=gauss(abs(string.bias[2]), units=True),
                         under=f"gap {fixed(string.gap * 1e3, 2)} mm")
    field = max(p.poles, key=lambda q: abs(q.field))
    return KeyFigure(name=f"Field {figure(p.probe_height * 1e3, 1)} mm over pole {field.number}",
                     value=gauss(abs(field.field), units=True),
                     under=_between(1e3 * abs(field.field_band[0]), 1e3 * abs(field.field_band[1]), "mT")
                     if field.band_counts else "and the scatter of its grade")


def _resonances(found: Findings) -> list[KeyFigure]:
    top, own = found.circuit.resonance(), next(iter(found.responses().values()))
    low, high = found.resonance_ends()
    out = []
    if top is not None:
        span = ("capacitance measured" if found.capacitance_measured or low is None or high is None
                else _between(low.frequency / 1e3, high.frequency / 1e3, "kHz"))
        alone = "coil alone" if len(found.windings) == 1 else "coils alone"
        out.append(KeyFigure(name=f"Resonance, {alone}", value=hertz(top.frequency), under=span))
    if own.resonance is not None and own.peak is not None:
        out.append(KeyFigure(name="Resonance, with its load", value=hertz(own.resonance),
                             under=f"{fixed(own.peak, 1)} dB high"))
    return out


def _levels(found: Findings) -> list[KeyFigure]:
    if not any(s.heard for s in found.prediction.strings):
        return [KeyFigure(name="Sensitivity", value="0 mV", under="per m/s, every string")]
    top, low = loudest_and_weakest(found)
    out = [KeyFigure(name="Strongest string" if low is not top else "Sensitivity",
                     value=f"{figure(1e3 * top.sensitivity)} mV",
                     under=f"per m/s, {name(top)}")]
    if low is not top:
        out.append(KeyFigure(name="Weakest string", value=f"{fixed(low.balance, 1)} dB", under=name(low)))
    return out


def _between(low: float, high: float, unit: str) -> str:
    low, high = sorted((low, high))
    return f"{figure(low)} to {figure(high)} {unit}"
