"""`stringflux pull`: how the magnets pull the strings, and what it does to their pitch."""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from stringflux.geometry.case.model import Case
from stringflux.geometry.notes import pitch_words

from ..files.load import load_case, read_content
from ..output.document import case_source, document
from ..solved.unmagnetised import UNMAGNETISED
from ..terminal.lengths import Inches, length_cell, length_head, written_in_inches
from ..terminal.options import CaseOptions, said_in
from ..terminal.progress import shown_progress
from ..terminal.tables import Column, console, digits, fitting, table
from ..terminal.words import print_oddities

if TYPE_CHECKING:
    from ..jobs.plucked import StringPull

UNITS = {
    **dict.fromkeys(("force_y", "force_z"), "N"),
    **dict.fromkeys(("stiffness_y", "stiffness_z", "curve_y", "curve_z", "reversible_y", "reversible_z"), "N/m"),
    **dict.fromkeys(("cents_y", "cents_z"), "cent"),
    **dict.fromkeys(("gap", "one_cent_gap", "looked"), "m"),
    "split": "Hz",
}


@said_in(CaseOptions)
def pull(options: CaseOptions) -> None:
    """Force, stiffness, shift of the fundamental and the gap of one cent."""
    case = load_case(options.which, options.changes)
    from ..solving import solve

    with shown_progress(bar_only=options.json) as progress:
        pulls = solve(case, quality=options.quality).pull(progress)
    if options.json:
        source = case_source(options.which, options.changes)
        sys.stdout.write(document("pull", case, source, {"strings": pulls.strings}, UNITS))
    else:
        _print(case, pulls, written_in_inches(read_content(options.which, options.changes)))
        print_oddities(case, console())


def _print(case: Case, pulls: Sequence[StringPull], inches: Inches) -> None:
    to = console()
    to.print(case.title or "Untitled case", style="bold", markup=False)
    columns: dict[str, list[str]] = {
        "No.": [str(p.number) for p in pulls],
        "Pitch": [pitch_words(s.pitch) for s in case.string],
        length_head("Gap", inches=inches.gap): [length_cell(p.gap, inches=inches.gap) for p in pulls],
        "Force\nmN": [digits(-1e3 * p.pull.force_z) for p in pulls],
        "Stiffness\nup\nN/m": [digits(p.pull.stiffness_z) for p in pulls],
        "across\nN/m": [digits(p.pull.stiffness_y) for p in pulls],
        "Shift\nup\ncent": [f"{p.detuning.cents_z:+.2f}" for p in pulls],
        "across\ncent": [f"{p.detuning.cents_y:+.2f}" for p in pulls],
        "Beats\nHz": [f"{abs(p.detuning.split):.2f}" for p in pulls],
        length_head("1 cent\nat", inches=inches.gap): [_gap(p, inches=inches.gap) for p in pulls],
    }
    made = [Column(head=head, cells=tuple(cells)) for head, cells in columns.items()]
    to.print(fitting("Pull of the magnets", made, to) or table("Pull of the magnets", made, loose=False))
    to.print("Force: towards the pole. Shift: of the fundamental swinging up and down, and across; the two beat.")
    to.print("1 cent at: the gap above which neither shift is more than a cent.")
    if not case.is_magnetised:
        to.print(f"{UNMAGNETISED[0].upper()}{UNMAGNETISED[1:]}.", soft_wrap=True)


def _gap(p: StringPull, *, inches: bool) -> str:
    if math.isinf(p.one_cent_gap):
        return f"< {p.looked[0] * 1e3:.1f}" if p.one_cent_gap < 0 else f"> {p.looked[1] * 1e3:.1f}"
    return length_cell(p.one_cent_gap, inches=inches)
