"""Tables of the coil for the report: winding, impedance, load, hum."""

from __future__ import annotations

import math

import numpy as np

from ..coil.hum import HOME_MEAN, HOME_RANGE, MAINS, PUBLIC_LIMIT
from ..coil.winding import Winding
from ..plucked.sensed import SWING
from .findings import Findings
from .page import ReportTable, numbers, words
from .strings import string_names
from .words import figure, fixed, hertz, ohms

METER = (100.0, 120.0, 1e3, 10e3)
"""Frequencies of common meters, Hz."""


def winding_table(w: Winding, caption: str = "Winding") -> ReportTable:
    """What to wind, row by row."""
    low, nominal, high = (r / 1e3 for r in w.resistance_computed)
    least, most = w.wire.overall[0], w.wire.overall[2]
    resistance = f"{figure(nominal)} kΩ, {figure(low)} to {figure(high)} by the wire's tolerance"
    if w.resistance_measured:
        resistance = f"{ohms(w.resistance)} measured; computed {resistance}"
    capacitance = (f"{figure(w.capacitance * 1e12)} pF, measured" if w.capacitance_measured else
                   f"some {figure(w.capacitance * 1e12, 2)} pF, "
                   f"{' to '.join(figure(c * 1e12, 2) for c in w.capacitance_band)}: "
                   f"{figure(w.capacitance_turns * 1e12, 2)} between its turns, scattered, and "
                   f"{figure(w.capacitance_outside * 1e12, 2)} round it; "
                   f"{f'potted in {w.potted}, ' if w.potted else ''}without its lead")
    limits = "" if least == most else f" ({least * 1e3:.4g} to {most * 1e3:.4g})"
    rows = {
        "Wire": f"{w.wire.name}, copper ∅ {w.wire.bare * 1e3:.4g} mm, insulated {w.wire.overall[1] * 1e3:.4g} "
                f"mm{limits}",
        "Turns": f"{w.turns:g}",
        "Window": f"{w.width * 1e3:.4g} × {w.height * 1e3:.4g} mm; the turns take {100 * w.fill:.0f} % of it, copper "
                  f"{100 * w.copper_fill:.0f} %",
        **({"Winding": f"{w.wound_words} mm of the window's {w.width * 1e3:.4g} mm thick, from the inside; "
                       f"{100 * w.packed:.0f} % of that is wire"} if w.packed_known else {}),
        "Wire length": f"{w.length:.0f} m, mean turn {w.mean_turn * 1e3:.1f} mm",
        "Mass": f"{figure(w.mass * 1e3)} g, of it {figure(w.copper_mass * 1e3)} g copper",
        f"Resistance at {w.temperature:g} °C": resistance,
        "Capacitance": capacitance,
        "Winding tension": f"{figure(w.tension, 2)} N: {100 * w.tension_share:.0f} % of the yield of annealed "
                           "copper, "
                           "computed, not tabulated",
    }
    for tap in w.taps:
        share = f"{100 * tap.inductance_share:.0f} % of L in air"
        rows[f"Tap at {tap.turns:g} turns"] = f"{ohms(tap.resistance)}, {share}"
    return ReportTable(
        caption=caption, columns=(words("What", list(rows)), words("How much", list(rows.values()))),
        note="Length, mass and resistance are those of a scattered winding that "
             f"{'lies evenly in what it takes of the window' if w.packed_known else 'fills its window evenly'}.")


def packings_table(w: Winding, caption: str = "Ways to lay the turns") -> ReportTable:
    """Ways to lay the turns."""
    return ReportTable(caption=caption, columns=(
        words("Laid", [p.name for p in w.packings]),
        numbers("Turns per layer", [str(p.turns_per_layer or "–") for p in w.packings]),
        numbers("Layers", [str(p.layers or "–") for p in w.packings]),
        numbers("Thickness", [fixed(p.thickness * 1e3, 2) for p in w.packings], "mm"),
        numbers("Wire", [f"{p.length:.0f}" for p in w.packings], "m"),
        numbers("Between turns", [figure(c * 1e12, 2) for c in (w.capacitance_turns, *w.capacitance_layered)], "pF"),
        numbers("Most that fits", [str(p.most_turns) for p in w.packings], "turns"),
    ), note="Wire as fine as a pickup's lies scattered; layers in order need thick wire and great care.")


def impedance_table(found: Findings) -> ReportTable:
    """L, R and Z where meters measure."""
    f = np.array(METER)
    circuit = found.circuit
    series, z = circuit.series(f), circuit.impedance(f)
    alone = "The coil" if len(found.windings) == 1 else "The pickup"
    return ReportTable(caption=f"{alone} alone, as a meter would read it", columns=(
        words("Frequency", [hertz(x) for x in f]),
        numbers("L", [figure(x, 4) for x in circuit.inductance_at(f).real], "H"),
        numbers("R", [figure(x / 1e3, 4) for x in series.real], "kΩ"),
        numbers("|Z|", [figure(abs(x) / 1e3, 4) for x in z], "kΩ"),
        numbers("Phase", [fixed(x, 1) for x in np.degrees(np.angle(z))], "°"),
    ), note=f"L and R: {_windings(found)}, without capacitance. |Z| and phase: with it.")


def _windings(found: Findings) -> str:
    if found.build is None:
        return "the winding with the eddy currents in its poles"
    several = len(found.build.windings) > 1
    return (f"the {'coils as they are connected' if several else 'winding'} with the eddy currents in bodies, covers "
            "and plates")


def loaded_table(found: Findings) -> ReportTable:
    """Settings of the controls."""
    told = found.responses()
    rows = list(told.values())
    return ReportTable(caption="At the amplifier", columns=(
        words("Controls", list(told)),
        numbers("Resonance", [_or_none(x.resonance, 0) for x in rows], "Hz"),
        numbers("Peak", [_or_none(x.peak, 1) for x in rows], "dB"),
        numbers("3 dB down at", [_or_none(x.corner, 0) for x in rows], "Hz"),
        numbers("Level, low", [fixed(x.level, 1) if math.isfinite(x.level) else "silent" for x in rows], "dB"),
    ), note="Level: output over the strings' voltage at low frequencies; peak and 3 dB count from there. Half is "
            "half "
            "the rotation of the control.")


def load_words(found: Findings) -> str:
    """What hangs on the coil, in a sentence."""
    load = found.case.load
    told, lead = [], found.case.lead
    if lead.farads:
        told.append(f"{lead.length:g} m of lead with {lead.farads * 1e12:.0f} pF")
    if load.controls != "none":
        told.append(f"a volume control of {ohms(load.volume)} ({load.volume_taper} taper)")
    if load.controls == "volume and tone":
        told.append(f"a tone control of {ohms(load.tone)} ({load.tone_taper} taper) with "
                    f"{figure(load.tone_capacitor * 1e9, 2)} nF")
    told.append(f"{load.cable_length:g} m of cable with {load.cable_length * load.cable_capacitance * 1e12:.0f} pF")
    told.append(f"an input of {ohms(load.input_resistance)} and {load.input_capacitance * 1e12:g} pF")
    return f"On the {'coil' if len(found.windings) == 1 else 'coils'} hang {', '.join(told[:-1])} and {told[-1]}."


def area_table(found: Findings) -> ReportTable:
    """Of turns, of what they go round, and of both, in all three directions."""
    area = found.hum
    rows = {"turns": area.turns, "poles" if found.build is None else "steel and magnets": area.poles,
            "together": area.total}
    return ReportTable(caption="Effective area", columns=(
        words("Of the", list(rows)),
        *(numbers(way, [fixed(float(v[i]), 4) for v in rows.values()], "m²")
          for i, way in enumerate(("Along the strings", "Across", "Up"))),
    ), note="A uniform field in one of these directions makes 2π f times the area times the field, rms for rms.")


def hum_table(found: Findings) -> ReportTable:
    """Millivolts in fields that people live in."""
    fields = {
        "1 µT": 1e-6,
        f"{HOME_MEAN * 1e6:g} µT, average of homes": HOME_MEAN,
        f"{HOME_RANGE[1] * 1e6:g} µT, high for a home": HOME_RANGE[1],
        f"{PUBLIC_LIMIT * 1e6:g} µT, limit for the public": PUBLIC_LIMIT,
    }
    coil = "coil" if len(found.windings) == 1 else "coils together"
    return ReportTable(caption=f"Hum of the open {coil}, rms, in the worst direction", columns=(
        words("Field", list(fields)),
        *(numbers(f"{f:g} Hz", [figure(1e3 * found.hum.voltage(B, f)) for B in fields.values()], "mV")
          for f in MAINS),
    ), note="Homes: EPRI survey of 1993 and Gajšek et al., IJERPH 13(9), 2016, 875. Limit: ICNIRP 2010.")


def hum_level_table(found: Findings) -> ReportTable:
    """Hum against the strings."""
    volts = found.swing_voltages()
    return ReportTable(
        caption=f"Hum at {HOME_MEAN * 1e6:g} µT against a string that swings ± {SWING * 1e3:g} mm over the pickup",
        columns=(
            words("String", string_names(found.prediction.strings)),
            numbers("String", [figure(1e3 * v) for v in volts], "mV, rms"),
            *(numbers(f"Hum at {f:g} Hz", [decibel(found.hum.voltage(HOME_MEAN, f) / v if v else 0.0) for v in volts],
                      "dB")
              for f in MAINS),
        ))


def hum_words(found: Findings) -> str:
    """The effective area."""
    turns, total = (float(np.linalg.norm(v)) for v in (found.hum.turns, found.hum.total))
    if len(found.windings) > 1:
        return (f"To a uniform field the coils together are a loop of {figure(total)} m². Voltages of strings "
                f"can add "
                "where the hum of both coils cancels; a field that is not the same at both is not cancelled.")
    adds = "its poles add" if found.build is None else "steel and magnets add"
    return (f"To a uniform field the pickup is a loop of {figure(total)} m²: its turns alone would be "
            f"{figure(turns)} m², "
            f"{adds} {100 * (total / turns - 1):.0f} %. One coil alone cannot tell hum from strings.")


def decibel(ratio: float) -> str:
    """A ratio of voltages in dB, one place."""
    return fixed(20 * math.log10(ratio), 1) if ratio > 0 else "–"


def _or_none(value: float | None, places: int) -> str:
    return "–" if value is None else fixed(value, places)
