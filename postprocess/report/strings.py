"""Tables of strings, poles and materials for the report."""

from __future__ import annotations

import math
from collections.abc import Sequence

from stringflux.geometry.notes import pitch_words
from stringflux.solver.materials import Material, is_magnet, is_steel, is_string_metal

from ..figures.style import gauge_name
from ..records.prediction import StringRecord
from .findings import Findings
from .page import PageColumn, ReportTable, numbers, words
from .summary import doubt
from .words import NBSP, figure, fixed, gauss

STRONG, WEAK = "▲", "▼"


def string_names(strings: Sequence[StringRecord]) -> list[str]:
    """``2  E2``."""
    return [f"{s.number}{NBSP * 2}{pitch_words(s.pitch)}" for s in strings]


def strings_table(found: Findings) -> ReportTable:
    """What each string meets and makes."""
    strings = found.prediction.strings
    coil = "coil" if len(found.windings) == 1 else "coils together"
    below = "its pole" if strings[0].pole else "the pickup"
    return ReportTable(
        caption="Strings at rest, and the voltage that their motion makes",
        columns=(
            words("String", string_names(strings)),
            numbers("Diameter", [gauge_name(s) for s in strings], "mm"),
            numbers("Tension", [fixed(s.tension, 1) for s in strings], "N"),
            *_gaps(strings),
            numbers("Field at string", [gauss(s.bias[2]) for s in strings], "G (mT)"),
            numbers("B in string steel", [fixed(s.peak_flux_density, 2) for s in strings], "T"),
            numbers("S, up and down", [figure(s.sensitivity * 1e3) for s in strings], "mV per m/s"),
            numbers("Range of S", [" to ".join(figure(v * 1e3) for v in s.sensitivity_band) if s.heard else "–"
                                   for s in strings], "mV per m/s"),
            numbers("S, across", [fixed(s.sensitivity_across * 1e3, 1) for s in strings], "mV per m/s"),
            numbers("S, 0.1 mm closer", [fixed(-1e-4 * s.gap_slope, 2, sign=True) for s in strings], "dB"),
        ),
        note=f"S is the voltage of the open {coil} per speed of the string over {below}. Its range is the doubt "
             "about the "
             "steel and the wrap of the string. w: wound.",
    )


def _gaps(strings: Sequence[StringRecord]) -> list[PageColumn]:
    """The gap, or that over every row of several."""
    places = strings[0].over
    if len(places) < 2 or any(math.isnan(p.gap) for p in places):
        return [numbers("Gap", [fixed(s.gap * 1e3, 2) for s in strings], "mm")]
    return [numbers(f"Gap over {place.name}", [fixed(s.over[k].gap * 1e3, 2) for s in strings], "mm")
            for k, place in enumerate(places)]


def balance_table(found: Findings) -> ReportTable:
    """Levels in dB in three ways."""
    strings = found.prediction.strings
    speed = [f"{fixed(s.balance, 1)} ± {fixed(doubt(s), 1)}" if s.heard else "–" for s in strings]
    return ReportTable(
        caption="Balance of the strings",
        columns=(
            words("String", string_names(strings)),
            numbers("Equal speed", _marked(speed, [s.balance for s in strings]), "dB"),
            numbers("Equal pluck force", _marked(*_plain([s.balance_force for s in strings])), "dB"),
            numbers("Equal pluck distance", _marked(*_plain([s.balance_displacement for s in strings])), "dB"),
        ),
        note=f"In dB under the loudest string; {STRONG} strongest, {WEAK} weakest. 1 dB is just heard, 6 dB is half "
             "the voltage.",
    )


def _plain(values: list[float]) -> tuple[list[str], list[float]]:
    return [fixed(v, 1) for v in values], values


def _marked(cells: Sequence[str], values: Sequence[float]) -> list[str]:
    heard = [v for v in values if math.isfinite(v)]
    mark = {values.index(min(heard)): WEAK, values.index(max(heard)): STRONG} if len(heard) > 1 else {}
    return [f"{c} {mark.get(i, chr(0x2003))}" for i, c in enumerate(cells)]


def poles_table(found: Findings) -> ReportTable:
    """What a gaussmeter should read."""
    poles = found.prediction.poles
    placed = {_at(row.row.x, place.y): place for row in found.case.rows() for place in row.placed()}
    parts = ["; ".join(f"{q.material} {q.size} mm" for q in placed[_at(p.x, p.y)].shape.parts) for p in poles]
    along = (numbers("Along", [fixed(p.x * 1e3, 2) for p in poles], "mm"),) if any(p.x for p in poles) else ()
    at = f"{found.prediction.probe_height * 1e3:g} mm"
    ranged = any(p.band_counts for p in poles)
    return ReportTable(
        caption="Poles",
        columns=(
            words("Pole", [str(p.number) for p in poles]),
            words("Parts from the top down", parts),
            *along,
            numbers("Across", [fixed(p.y * 1e3, 2) for p in poles], "mm"),
            numbers("Face at", [fixed(p.face * 1e3, 2) for p in poles], "mm"),
            numbers(f"Field {at} over it", [gauss(p.field) for p in poles], "G (mT)"),
            *((numbers("Range", [" to ".join(fixed(v * 1e3, 1) for v in sorted(p.field_band)) if p.band_counts
                                 else "–" for p in poles], "mT"),) if ranged else ()),
        ),
        note="Positive: the north pole looks at the strings. "
             + ("The range is the doubt about the magnets' permeability across their axis. " if ranged else "")
             + "Grades scatter by 5 to 10 % in Br and Hc besides. A probe sits some tenths of a millimetre inside "
             "its case, so read it at the height given here.",
    )


def _at(x: float, y: float) -> tuple[float, float]:
    return round(x, 9), round(y, 9)


def materials_table(found: Findings) -> ReportTable:
    """What the parts and strings are made of, with sources."""
    told = [(name, *_told(m), m.source or "–") for name, m in found.materials.items()]
    return ReportTable(
        caption="Materials",
        columns=tuple(words(head, [row[i] for row in told])
                      for i, head in enumerate(("Name", "Kind", "Figures", "Source"))),
    )


def _told(m: Material) -> tuple[str, str]:
    if is_magnet(m):
        return "magnet", (f"Br {figure(m.remanence)} T, Hc {figure(m.coercivity / 1e3)} kA/m, recoil μr "
                          f"{_range(m.mu_recoil, m.mu_recoil_range)}, for signals "
                          f"{_range(m.mu_signal, m.mu_signal_range)}, across μr "
                          f"{_range(m.mu_transverse, m.mu_transverse_range)}")
    if is_steel(m):
        return "soft steel", (f"Js {figure(m.saturation)} T, reversible μr "
                              f"{_range(m.mu_reversible, m.mu_reversible_range)}")
    if is_string_metal(m):
        top = "" if m.law == "linear" else f"Js {figure(m.polarisation)} T, "
        return "string metal", (f"{top}χ {m.chi_initial:.4g} at first, reversible "
                                f"{_range(m.chi_reversible, m.chi_reversible_range)}")
    conducts = f", resistivity {figure(m.resistivity * 1e9)} nΩ·m" if math.isfinite(m.resistivity) else ""
    return "not magnetic" if m.mu_r == 1 else "constant permeability", f"μr {m.mu_r:g}{conducts}"


def _range(value: float, ends: tuple[float, float]) -> str:
    return f"{value:.4g}" if ends[0] == ends[1] else f"{value:.4g} ({ends[0]:g} to {ends[1]:g})"
