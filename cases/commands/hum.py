"""`stringflux hum`: how much of the mains a pickup hears."""

from __future__ import annotations

import math
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from stringflux.geometry.case.model import Case
from stringflux.geometry.notes import pitch_words

from ..files.taps import load_at_tap
from ..output.document import case_source, document
from ..solved.unmagnetised import UNMAGNETISED
from ..terminal.options import CaseOptions, TapOptions, said_in
from ..terminal.progress import shown_progress
from ..terminal.tables import Column, console, digits, table
from ..terminal.words import print_oddities

if TYPE_CHECKING:
    from stringflux.postprocess.coil.hum_several import HumResidue

    from ..jobs.hum import Hum

LEAST_MILLIVOLT = 0.1e-3  # V
UNITS = {"turns": "m2", "poles": "m2", "signal": "V", "voltage_per_microtesla": "V", "level": "dB"}


@dataclass(frozen=True, kw_only=True)
class HumOptions(CaseOptions, TapOptions):
    """The options of `hum`."""


@said_in(HumOptions)
def hum(options: HumOptions) -> None:
    """Effective area, mV per µT, and the level against the strings."""
    case, changes = load_at_tap(options.which, options.changes, options.tap)
    from ..solved.solid_inputs import begin_mesh

    begin_mesh(case, options.quality)
    from ..solving import solve

    with shown_progress(bar_only=options.json) as progress:
        found = solve(case, quality=options.quality).hum(progress)
    if options.json:
        result = {"hum": found, "levels": _levels(found)}
        sys.stdout.write(document("hum", case, case_source(options.which, changes), result, UNITS))
    else:
        _print(case, found)
        print_oddities(case, console())


def _levels(hum: Hum) -> list[dict[str, Any]]:
    from stringflux.postprocess.coil.hum import HOME_MEAN, MAINS

    return [{"frequency": f, "voltage_per_microtesla": hum.area.voltage(1e-6, f), "field": HOME_MEAN,
             "level": hum.level(HOME_MEAN, f)} for f in MAINS]


def _print(case: Case, hum: Hum) -> None:
    from stringflux.postprocess.coil.hum import HOME_MEAN, HOME_RANGE, MAINS, PUBLIC_LIMIT
    from stringflux.postprocess.plucked.sensed import SWING

    to = console()
    to.print(case.title or "Untitled case", style="bold", markup=False)
    area = hum.area
    rows = {"turns": area.turns, "poles": area.poles, "together": area.total}
    to.print(table("Effective area", [
        Column(head="Of the", cells=tuple(rows)),
        *(Column(head=f"{way}\nm²", cells=tuple(f"{v[i]:.4f}".replace("-0.0000", "0.0000") for v in rows.values()))
          for i, way in enumerate(("along", "across", "upwards"))),
    ], left=1))
    fields = {"1 µT": 1e-6, f"{HOME_MEAN * 1e6:g} µT, mean of homes": HOME_MEAN,
              f"{HOME_RANGE[1] * 1e6:g} µT, a home's high end": HOME_RANGE[1],
              f"{PUBLIC_LIMIT * 1e6:g} µT, limit for the public": PUBLIC_LIMIT}
    volts = _voltages({f"{f:g} Hz": [area.voltage(B, f) for B in fields.values()] for f in MAINS})
    to.print(table("Hum, rms, in the worst direction", [Column(head="Field, rms", cells=tuple(fields)), *volts],
                   left=1))
    pitches = [pitch_words(s.pitch) for s in case.string]
    level = [Column(head=f"hum at {f:g} Hz\ndB", cells=tuple("–" if math.isnan(v) else f"{v:.1f}"
                                                             for v in hum.level(HOME_MEAN, f)))
             for f in MAINS]
    to.print(table(f"Against strings that swing ± {SWING * 1e3:g} mm over the row, {HOME_MEAN * 1e6:g} µT", [
        Column(head="No.", cells=tuple(str(i) for i in range(1, len(pitches) + 1))),
        Column(head="Pitch", cells=tuple(pitches)),
        Column(head="string\nmV", cells=tuple(digits(1e3 * s) for s in hum.signal)), *level]))
    if not case.is_magnetised:
        to.print(f"{UNMAGNETISED[0].upper()}{UNMAGNETISED[1:]}.", soft_wrap=True)
    to.print("Fields of homes: surveys of 1993 (EPRI) and 2016 (IJERPH 13, 875); the limit: ICNIRP 2010.")
    to.print("Beside a transformer or a lamp the field is many times larger.")
    if hum.residue is not None:
        for line in _residue_words(hum.residue, hum):
            to.print(line, markup=False)


def _voltages(columns: Mapping[str, Sequence[float]]) -> list[Column]:
    """Columns in mV, or all in µV where mV would leave less than two digits of one."""
    small = min((v for values in columns.values() for v in values if v > 0), default=1.0)
    unit, size = ("µV", 1e6) if small < LEAST_MILLIVOLT else ("mV", 1e3)
    return [Column(head=f"{head}\n{unit}", cells=tuple(digits(size * v) for v in values))
            for head, values in columns.items()]


def _residue_words(found: HumResidue, hum: Hum) -> list[str]:
    """How well the coils cancel, and what turns would do about it."""
    left = f"{found.level:.1f} dB" if math.isfinite(found.level) else "nothing"
    lines = [f"Coils {hum.connection}: {left} of the louder coil alone ({digits(1e6 * found.voltage)} against "
             f"{digits(1e6 * found.voltage_alone)} µV in 1 µT at {found.frequency:g} Hz, uniform)."]
    for name, per_turn, trim, after in zip(hum.coils, found.per_turn, found.trim, found.trimmed_level, strict=True):
        if math.isfinite(trim):
            rest = f"{after:.1f} dB" if math.isfinite(after) else "nothing"
            lines.append(f"{name}: one more turn changes it by {1e6 * per_turn:+.3g} µV; {trim:+.0f} turns would "
                         f"leave {rest}.")
    lines.append("A field that is not the same at both coils is not cancelled, whatever their turns.")
    return lines
