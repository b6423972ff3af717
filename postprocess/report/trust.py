"""How far each figure of a report can be trusted, and what to mind with the thing in hand."""

from __future__ import annotations

from collections.abc import Sequence

from .build import left_out
from .findings import Findings
from .page import ReportList, ReportTable, words
from .summary import doubt
from .words import figure, fixed, hertz, percent_range

Row = tuple[str, str, str, str]


def trust_table(found: Findings) -> ReportTable:
    """Band in this case, where it comes from, and what the computation was held against."""
    rows = [*_fields(found), *_strings(found), *_coil(found), *_motion(found)]
    heads = ("Figure", "Band in this case", "Where the doubt comes from", "What the computation was held against")
    return ReportTable(
        caption="How far each figure can be trusted",
        columns=tuple(words(head, [row[i] for row in rows]) for i, head in enumerate(heads)),
        note="A band holds what is known of the materials, at its ends, and not the errors of making: a magnet half "
             "charged, turns miscounted, a gap set by eye.",
    )


def _fields(found: Findings) -> list[Row]:
    if not found.prediction.poles:
        return [("Field at the strings", "not computed",
                 "the magnets' permeability across their axis; grades scatter by 5 to 10 % in Br and Hc",
                 _SOLID_FIELDS)]
    magnetised = [p for p in found.prediction.poles if p.field]
    if not magnetised:
        return []
    widest = max(magnetised, key=lambda p: abs(p.field_band[1] / p.field_band[0] - 1))
    low, high = sorted(abs(v) for v in widest.field_band)
    return [(
        "Field over the poles", percent_range(low, abs(widest.field), high) if widest.band_counts
        else "under 1 %, but for the grade",
        "the magnets' permeability across their axis; beyond the band, grades scatter by 5 to 10 % in Br and Hc",
        "independent 3-D finite elements of a rod, a slug on a disc and six rods: within 1 %"
        if found.build is None else _SOLID_FIELDS,
    )]


_SOLID_FIELDS = ("an independent 3-D code on slugs and a bar: fields at the strings 1.3 % (draft), 0.6 % "
                 "(normal), 0.24 % "
                 "(fine)")
_SOLID_COILS = ("an independent 3-D code: L of slugs and a bar 0.8 % (draft), 0.3 % (normal), 0.14 % (fine), of two "
                "stacked coils 0.02 % (normal)")
"""Measured by tests/outside/test_solids3d.py."""


def _strings(found: Findings) -> list[Row]:
    strings = [s for s in found.prediction.strings if s.heard]
    if not strings:
        return []
    widest = max(strings, key=lambda s: s.sensitivity_band[1] / s.sensitivity_band[0])
    out = [(
        "S, and all voltages of strings",
        f"{percent_range(widest.sensitivity_band[0], widest.sensitivity, widest.sensitivity_band[1])} "
        f"(string {widest.number})",
        "the memory of the strings' steel: how strongly it is held, how easily magnetised; the turn gap of wraps",
        "3-D finite elements with the string meshed: linkage within 1 %, 1.5 % for the thickest string close by"
        if found.build is None else
        "the same strings over rods and slugs; for this very case: stringflux verify solves it with a string "
        "in the mesh",
    )]
    if len(strings) > 1:
        out.append((
            "Balance", f"± {fixed(max(doubt(s) for s in strings), 1)} dB at most",
            "the same; most of it cancels between strings, least between wound and plain ones",
            "numerical error about 0.1 dB",
        ))
    return out


def _coil(found: Findings) -> list[Row]:
    low, nominal, high = found.resistance
    lower, upper = found.resonance_ends()
    loaded = [r.resonance for r in found.loaded_ends()]
    row = found.build is None
    out = [(
        "DC resistance", "measured" if found.resistance_measured else percent_range(low, nominal, high),
        "tolerance of the wire's diameter; stretch while winding adds some per cent",
        "tables of the wire's standard",
    ), (
        "Inductance, low frequencies", "about 0.5 %" if row else "0.5 to 1 %",
        "reversible permeability of steel (± a few per cent there), real shape of the winding",
        "published coils to 0.02 %; 3-D finite elements of coils with poles: within 0.3 %" if row else _SOLID_COILS,
    ), (
        "L and R against frequency, Q, height of peaks", "some 10 % (an estimate)",
        "resistivity and permeability of the poles; covers, base plates and screws beside them are not counted"
        if row else "resistivity and permeability of steel, magnets and sheets; holes in sheets are not counted",
        "exact conducting cylinder in a long solenoid" if row else
        "one rod by its own finite elements: 0.5 % of |L| up to 5 kHz, 0.9 % at 10 kHz",
    )]
    if found.capacitance_measured:
        out.append(("Resonances", "some per cent", "as L; the capacitance was measured", "exact circuits"))
        return out
    span = f"alone {hertz(lower.frequency)} to {hertz(upper.frequency)}" if lower and upper else "open"
    if None not in loaded:
        a, b = sorted(x for x in loaded if x is not None)
        span += f"; with its load {hertz(a)} to {hertz(b)}"
    out.append((
        "Resonances", span,
        "capacitance of the windings: how the turns lie, how thick their enamel is; cable and amplifier as the case "
        "gives them",
        "exact circuits, one measured pickup, one measured bare coil",
    ))
    return out


def _motion(found: Findings) -> list[Row]:
    out: list[Row] = []
    if found.played:
        level = max((p.string.curve_level for p in found.played), key=abs)
        out.append((
            "Voltage after a pluck", f"as S; {fixed(level, 1, sign=True)} dB if the steel had no memory",
            "how strings decay is assumed; a bent string is averaged over the length that the coil sees",
            "exact modes of ideal and stiff strings; a bent string through the whole model",
        ))
    several = len(found.windings) > 1
    out.append((
        "Hum, what coils leave of it" if several else "Hum",
        "2 % of one coil's area, so that a residue below −34 dB is not known; a field that is not uniform adds to it"
        if several else "2 % in area; the field of a room is another matter, 0.05 to 0.4 µT in homes",
        "where the pickup stands and which way it points; leads and shields",
        "a loop and a sphere, exact; a far dipole by reciprocity",
    ))
    if found.pulls:
        worst = max(found.pulls, key=lambda p: abs(p.pull.force_z))
        a, b = worst.pull.stiffness_z, worst.pull.curve_z
        out.append((
            "Pull, shift and beats", f"stiffness of string {worst.number}: {figure(min(a, b, key=abs), 2)} to "
            f"{figure(max(a, b, key=abs), 2)} N/m",
            "the steel again: its memory against one curve; the field of the magnets goes in squared",
            "force in a uniform gradient, exact; the equation of a string with a point spring",
        ))
    return out


def cautions(magnets: bool) -> ReportList:
    """What can hurt or break; `magnets` whether the pickup has any."""
    strong = (("Magnets.", "Strong magnets snap together and pinch, and they chip. Keep them away from pacemakers "
                           "and "
               "other implants, from cards with magnetic stripes and from hard disks."),) if magnets else ()
    charging = (("Charging.", "Magnet chargers store enough energy to kill. Leave charging to people who are "
                              "trained and "
                 "equipped for it, under the rules of the place."),) if magnets else ()
    return ReportList(items=(
        *strong, *charging,
        ("Mains.", "Amplifiers and test gear run on mains voltage and hold it after they are unplugged. Use what has "
         "its protective earth intact, and leave open chassis to licensed people."),
        ("Soldering.", "Solder at a window or under extraction, wash hands after leaded solder, wear glasses."),
        ("Wire.", "Fine wire under tension whips and cuts when it breaks: glasses on, fingers off the turning "
                  "bobbin. "
         "Strings break too."),
    ))


def assumed(found: Findings) -> ReportList:
    """What the whole computation takes for granted."""
    return ReportList(items=(*(_ROW if found.build is None else left_out(found)), *_ALL))


_ROW = (
    ("Bodies.", "Poles are round bodies on one line inside one coil. Covers, base plates, frames and a second coil "
                "are "
     "not in the computation."),
)
_ALL = (
    ("Strings.", "What the strings beside each do to it is counted over round poles and left out over others, "
                 "blades and bars."),
    ("Materials.", "Curves are those of the table or of the case file, the same throughout a part."),
)


def without(reasons: Sequence[str]) -> ReportList:
    """Why something is not in the report."""
    return ReportList(items=tuple(("Left out:", reason) for reason in reasons))
