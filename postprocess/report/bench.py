"""The page of a report that goes to the bench: what meters read, how it is set, and room to write beside it."""

from __future__ import annotations

import math

import numpy as np

from stringflux.geometry.case.threads import Screw
from stringflux.geometry.case.upper_ends import upper_ends

from .findings import Findings
from .page import PageColumn, ReportSection, ReportTable, numbers, words
from .strings import string_names
from .words import figure, fixed, gauss, hertz, number_list, ohms

LCR = (120.0, 1e3)
"""Frequencies of hand-held meters of inductance, Hz (common practice, no source)."""


def bench_page(found: Findings) -> ReportSection:
    """Terminals, poles, strings and their settings, each with a column for what is measured."""
    poles = (_poles(found),) if found.prediction.poles else ()
    return ReportSection(key="bench", title="For the bench", sheet=True, words=(
        "What a meter should read, and how the pickup stands in the case. Write beside it what you measure.",
        *_screws(found)), parts=(_terminals(found), *poles, _strings(found)))


def _terminals(found: Findings) -> ReportTable:
    low, _, high = found.resistance
    circuit, p = found.circuit, found.prediction
    span = "measured before" if found.resistance_measured else f"{ohms(low)} to {ohms(high)} by the wire's tolerance"
    rows = [(f"DC resistance at {found.winding.temperature:g} °C", ohms(found.resistance[1]), span)]
    for f in LCR:
        L = float(circuit.inductance_at(np.array([f])).real[0])
        rows.append((f"Inductance at {hertz(f)}", f"{figure(L, 4)} H", "in series, without capacitance"))
    top, own = circuit.resonance(), next(iter(found.responses().values()))
    if top is not None:
        ends = [e.frequency for e in found.resonance_ends() if e is not None]
        doubt = "capacitance measured" if found.capacitance_measured or len(ends) < 2 else (
            f"{hertz(min(ends))} to {hertz(max(ends))}")
        rows.append(("Resonance, nothing connected", hertz(top.frequency), doubt))
    if own.resonance is not None and own.peak is not None:
        rows.append(("Peak with controls and cable", hertz(own.resonance), f"{fixed(own.peak, 1)} dB high"))
    alone = "its poles" if found.build is None else "steel and magnets"
    rows.append((f"Inductance without {alone}", f"{figure(p.coil.inductance_air, 4)} H", "static"))
    return ReportTable(caption="At the terminals", columns=(
        words("What", [r[0] for r in rows]), words("Should read", [r[1] for r in rows]),
        words("Give or take", [r[2] for r in rows]), _blank("Measured", len(rows))))


def _poles(found: Findings) -> ReportTable:
    poles = found.prediction.poles
    ends = {end.pole: end.letter for end in upper_ends(found.case) if end.pole}
    height = f"{1e3 * found.prediction.probe_height:g} mm"
    return ReportTable(caption=f"Poles, by a gaussmeter {height} over each face", columns=(
        words("Pole", [str(p.number) for p in poles]),
        words("Up", [ends.get(p.number, "–") for p in poles]),
        numbers("Face at", [fixed(1e3 * p.face, 2) for p in poles], "mm"),
        numbers("Field", [gauss(p.field) for p in poles], "G (mT)"),
        _blank("Measured", len(poles), "G"), _blank("Face measured", len(poles), "mm")))


def _strings(found: Findings) -> ReportTable:
    strings = found.prediction.strings
    levels = [s.balance_displacement for s in strings]
    return ReportTable(caption="Strings, by a feeler gauge and a meter of level", columns=(
        words("String", string_names(strings)),
        numbers("Gap", [fixed(1e3 * s.gap, 2) for s in strings], "mm"),
        numbers("S, up and down", [figure(1e3 * s.sensitivity) for s in strings], "mV per m/s"),
        numbers("Level, equal pluck distance", [fixed(v, 1) if math.isfinite(v) else "–" for v in levels], "dB"),
        _blank("Gap measured", len(strings), "mm"), _blank("Level heard", len(strings), "dB")),
        note="Level: under the loudest string. 0.1 mm of gap is heard as what the table of the strings says.")


def _screws(found: Findings) -> tuple[str, ...]:
    """What heights are set by, where the case says it."""
    out = []
    by: dict[Screw, list[int]] = {}
    for row in found.case.rows():
        for n, screw in enumerate(row.screws(), start=row.before + 1):
            if screw is not None:
                by.setdefault(screw, []).append(n)
    for screw, poles in by.items():
        out.append(f"Screws of pole{'s' if len(poles) > 1 else ''} {number_list(poles)}: "
                   f"{1e3 * screw.quarter:.3g} mm in a quarter turn, clockwise goes down, from the strings.")
    if found.case.height_screws is not None:
        screw = found.case.height_screws.screw()
        out.append(f"Height screws: {1e3 * screw.quarter:.3g} mm in a quarter turn, clockwise "
                   f"{'raises' if screw.clockwise > 0 else 'lowers'} that side of the pickup.")
    return tuple(out)


def _blank(head: str, rows: int, unit: str = "") -> PageColumn:
    """A column to write into."""
    return PageColumn(head=head, unit=unit, cells=("",) * rows, blank=True)
