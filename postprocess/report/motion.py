"""Tables of the moving strings for the report: voltage of a pluck, pull of the magnets."""

from __future__ import annotations

import math

from stringflux.geometry.notes import pitch_words

from ..plucked.sensed import SWING
from .findings import Findings, PulledString
from .page import ReportTable, numbers, words
from .words import NBSP, figure, fixed


def signal_table(found: Findings) -> ReportTable:
    """Millivolts of the plucked strings, at the coil and at the amplifier."""
    played, loaded = found.played, found.loaded
    out = [p.signal.rms for p in loaded]
    loud, loud_out = max(p.signal.rms for p in played), max(out)
    H = [p.string.harmonics() for p in played]
    at = f"at ± {SWING * 1e3:g} mm"
    return ReportTable(
        caption="Voltage of the plucked strings",
        columns=(
            words("String", [f"{p.number}{NBSP * 2}{pitch_words(p.string.string.pitch)}" for p in played]),
            numbers("Swing over row", [f"± {fixed(1e3 * p.signal.excursion, 2)}" for p in played], "mm"),
            numbers("Peak, open coil", [figure(1e3 * p.signal.peak) for p in played], "mV"),
            numbers("Rms, open coil", [figure(1e3 * p.signal.rms) for p in played], "mV"),
            numbers("Balance", [_level(p.signal.rms, loud) for p in played], "dB"),
            numbers("Peak, at amplifier", [figure(1e3 * p.signal.peak) for p in loaded], "mV"),
            numbers("Rms, at amplifier", [figure(1e3 * v) for v in out], "mV"),
            numbers("Balance there", [_level(v, loud_out) for v in out], "dB"),
            numbers(f"2nd harmonic {at}", [_percent(h[0]) for h in H], "%"),
            numbers(f"3rd harmonic {at}", [_percent(h[1]) for h in H], "%"),
        ),
        note="At the amplifier: through eddy currents, controls and cable, as stringflux signal --loaded tells it. "
             "Rms and balance: over the first half second. Harmonics: what the pickup adds to a string that swings "
             "like a sine. How fast partials die away is an assumption.",
    )


def _level(value: float, loudest: float) -> str:
    return fixed(20 * math.log10(value / loudest), 1) if value > 0 and loudest > 0 else "–"


def _percent(share: float) -> str:
    return "–" if math.isnan(share) else figure(100 * share, 2)


def pull_table(found: Findings) -> ReportTable:
    """Force of the magnets on each string and what it does to its pitch."""
    pulls, pitch = found.pulls, [s.pitch for s in found.case.string]
    return ReportTable(
        caption="Pull of the magnets on the strings",
        columns=(
            words("String", [f"{p.number}{NBSP * 2}{pitch_words(f)}" for p, f in zip(pulls, pitch, strict=True)]),
            numbers("Gap", [fixed(p.gap * 1e3, 2) for p in pulls], "mm"),
            numbers("Force", [figure(-1e3 * p.pull.force_z, 2) for p in pulls], "mN"),
            numbers("Stiffness, up and down", [figure(p.pull.stiffness_z, 2) for p in pulls], "N/m"),
            numbers("Stiffness, across", [figure(p.pull.stiffness_y, 2) for p in pulls], "N/m"),
            numbers("Shift, up and down", [fixed(p.detuning.cents_z, 2, sign=True) for p in pulls], "cent"),
            numbers("Shift, across", [fixed(p.detuning.cents_y, 2, sign=True) for p in pulls], "cent"),
            numbers("Beats", [fixed(abs(p.detuning.split), 2) for p in pulls], "Hz"),
            numbers("Under 1 cent from a gap of", [_one_cent(p) for p in pulls], "mm"),
        ),
        note="Force: towards the pole. Shift: of the fundamental, swinging up and down or across; a string that "
             "does both "
             "beats at the difference.",
    )


def _one_cent(p: PulledString) -> str:
    if math.isinf(p.one_cent_gap):
        return f"< {fixed(p.looked[0] * 1e3, 1)}" if p.one_cent_gap < 0 else f"> {fixed(p.looked[1] * 1e3, 1)}"
    return fixed(p.one_cent_gap * 1e3, 2)
