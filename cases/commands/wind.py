"""`stringflux wind`: what to wind, and what gives a wanted resistance, inductance, peak, level or field."""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

from ..files.load import find_case, load_case
from ..output.document import case_source, document, plain
from ..output.folder import FolderKind, replaced_folder
from ..studies.designs.aims import read_aim
from ..terminal.options import Json, Out, ReadOptions, said_in
from ..terminal.progress import shown_progress
from ..terminal.quantities import read_quantity, read_temperature
from ..terminal.tables import console

if TYPE_CHECKING:
    from stringflux.geometry.case.model import Case
    from stringflux.postprocess.coil.winding import Winding

UNITS = {
    **dict.fromkeys(("width", "height", "wound", "builds", "mean_turn", "length", "thickness", "bare", "overall"),
                    "m"),
    **dict.fromkeys(("resistance", "resistance_computed", "resistance_per_length"), "ohm"),
    **dict.fromkeys(("copper_mass", "mass"), "kg"),
    **dict.fromkeys(("capacitance", "capacitance_band", "capacitance_turns", "capacitance_outside",
                     "capacitance_layered"), "F"),
    "tension": "N",
    "inductance": "H",
    "faces": "T",
    "temperature": "degC",
}
MARK, SHEET, PDF = "wind.json", "sheet.html", "sheet.pdf"
KIND = FolderKind(MARK, r"sheet\.(html|pdf)")


@dataclass(frozen=True, kw_only=True)
class WindOptions(ReadOptions):
    """The options of `wind`."""

    wanted: Annotated[
        str | None,
        typer.Option("--for", metavar="VALUE", show_default=False,
                     help="6.2kohm, 3.5H, 4.2kHz (loaded peak), '+2dB over CASE', or 950G (over the faces)."),
    ] = None
    at: Annotated[
        str | None,
        typer.Option("--at", metavar="TEMPERATURE", show_default=False, help="Of the wire, if not the case's own."),
    ] = None
    coil: Annotated[
        str | None,
        typer.Option("--coil", metavar="NAME", show_default=False, help="Of several coils: whose turns may change."),
    ] = None
    spool: Annotated[
        str | None,
        typer.Option("--spool", metavar="MASS", show_default=False, help="How many coils 100g of wire makes."),
    ] = None
    out: Out = None
    json: Json = False


@said_in(WindOptions)
def wind(options: WindOptions) -> None:
    """Read all options first, then the case; what is wanted besides a resistance solves something."""
    with ExitStack() as stack:
        folder = None if options.out is None else stack.enter_context(replaced_folder(options.out, KIND))
        files = _wind(options, folder)
    if files:
        print(f"Written: {', '.join(files)} in {options.out}", file=sys.stderr if options.json else sys.stdout)


def _wind(options: WindOptions, folder: Path | None) -> tuple[str, ...]:
    """Print, and write into the folder; the names of what was written."""
    coil, json, changes = options.coil, options.json, options.changes
    asked = None if options.wanted is None else read_aim("--for", options.wanted)
    temperature = None if options.at is None else read_temperature("--at", options.at)
    wire = None if options.spool is None else read_quantity("--spool", options.spool, "mass")[0]
    case = load_case(options.which, changes)
    several = len(case.coils()) > 1
    if asked is not None and asked.over:
        load_case(asked.over)  # what is wrong with it is said at once
    if coil is not None and not several:
        raise CaseError(f"--coil: received {shown(coil)}, but this case has one coil; leave it out")
    from stringflux.postprocess.coil.winding import coils_from

    from ..jobs.wind import WoundCoils
    from ..papers.winding import print_winding
    from ..solved.windings import coil_windings, connection_words

    before = coil_windings(case, temperature)
    coils = WoundCoils(case=case, windings=before)
    shows = range(len(before)) if coil is None else (coils.coil(coil),)
    found, answer = None, case
    if asked is not None:
        from ..studies.designs.answer_words import answer_words
        from ..studies.designs.answered import answered

        with shown_progress(bar_only=json) as progress:
            found, answer = answered(case, before, asked, coil, progress)
            progress("", 1.0)
    windings = before if found is None else coil_windings(answer, temperature)
    coils = WoundCoils(case=answer, windings=windings)
    made = windings[shows[0]]
    files: tuple[str, ...] = ()
    if folder is not None:
        files = _write_sheet(answer, find_case(options.which).stem, windings, shows, folder)
    if json or folder is not None:
        result = {
            "winding": made, "wanted": found,
            "coils": [{"coil": case.coil_names()[i], **plain(windings[i])} for i in shows] if several else None,
            "coils_from_spool": None if wire is None else coils_from(wire, made),
        }
        text = document("wind", case, case_source(options.which, changes), result, UNITS, files)
        if folder is not None:
            (folder / MARK).write_text(text, encoding="utf-8")
        if json:
            sys.stdout.write(text)
            return files
    to = console()
    title = case.title or "Untitled case"
    for i in shows:
        print_winding(f"{title}: {case.coil_names()[i]}" if several else title, windings[i], to)
        if len(shows) > 1:
            to.print("")
    if case.lead.farads:
        to.print(f"The lead adds {case.lead.farads * 1e12:.4g} pF at its end.", markup=False)
    if answer.body and not all(windings[i].capacitance_measured for i in shows):
        from ..solved.windings import bodies_add_to

        added = bodies_add_to(answer)
        more = ", ".join(f"{added[i] * 1e12:+.1f} pF" + (f" on {case.coil_names()[i]}" if several else "")
                         for i in shows)
        to.print(f"Covers, plates and other bodies of metal make of the capacitance: {more}.", markup=False,
                 soft_wrap=True)
    if several:
        total = coils.resistance(0, windings[0].turns)
        to.print(f"At the terminals, {connection_words(case)}: {total / 1e3:.4g} kΩ at {made.temperature:g} °C.",
                 markup=False)
    if found is not None:
        was = before[case.coil_names().index(found.coil) if found.coil else 0]
        for i, line in enumerate(answer_words(found, case, was)):
            to.print(line if i else f"\n{line}", style=None if i else "bold", markup=False, soft_wrap=True)
    if wire is not None:
        made = windings[coils.coil(coil)] if several else made
        to.print(f"\nA spool of {wire * 1e3:g} g is enough for {math.floor(coils_from(wire, made))} such coils "
                 f"({coils_from(wire, made):.2f}, waste not counted).")
    sys.stdout.flush()
    return files


def _write_sheet(case: Case, name: str, windings: Sequence[Winding], coils: Sequence[int],
                 folder: Path) -> tuple[str, ...]:
    """Write the sheet, as PDF too where a browser is there; the names of what was written."""
    from ..papers.sheets import printed, winding_sheet

    page, pdf = folder / SHEET, folder / PDF
    page.write_text(winding_sheet(case, name, windings, coils=coils), encoding="utf-8")
    missing = printed(page, pdf)
    if missing:
        print(missing, file=sys.stderr)
    return (MARK, SHEET) if missing else (MARK, SHEET, PDF)

