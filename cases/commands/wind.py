"""`stringflux wind`: what to wind, and how many turns for a wanted resistance or inductance."""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

from ..files.load import find_case, load_case
from ..output.document import case_source, document, plain
from ..output.folder import FolderKind, replaced_folder
from ..terminal.options import Json, Out, ReadOptions, said_in
from ..terminal.progress import shown_progress
from ..terminal.quantities import read_quantity, read_temperature
from ..terminal.tables import console

if TYPE_CHECKING:
    from stringflux.geometry.case.model import Case
    from stringflux.postprocess.coil.winding import Winding

    from ..jobs.wind import WoundCoils

UNITS = {
    **dict.fromkeys(("width", "height", "wound", "mean_turn", "length", "thickness", "bare", "overall"), "m"),
    **dict.fromkeys(("resistance", "resistance_computed", "resistance_per_length"), "ohm"),
    **dict.fromkeys(("copper_mass", "mass"), "kg"),
    **dict.fromkeys(("capacitance", "capacitance_band", "capacitance_turns", "capacitance_outside",
                     "capacitance_layered"), "F"),
    "tension": "N",
    "temperature": "degC",
}
MARK, SHEET, PDF = "wind.json", "sheet.html", "sheet.pdf"
KIND = FolderKind(MARK, r"sheet\.(html|pdf)")


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """Turns for a wanted value: the value in Ω or H, the turns, and whether they fit the window.

    `inductance` is what the case's own turns have, H; None where it was not needed. `coil` is whose turns they are
    where the value is at the terminals of several coils. `resistance` is what the terminals have with those turns, Ω.
    """

    kind: str
    value: float
    turns: int
    fits: bool
    inductance: float | None = None
    coil: str = ""
    resistance: float | None = None


@dataclass(frozen=True, kw_only=True)
class WindOptions(ReadOptions):
    """The options of `wind`."""

    wanted: Annotated[
        str | None,
        typer.Option("--for", metavar="VALUE", show_default=False, help="Turns for 6.2kohm, or for 3.5H."),
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
    """Read all options first, then the case; only a wanted inductance solves anything."""
    with ExitStack() as stack:
        folder = None if options.out is None else stack.enter_context(replaced_folder(options.out, KIND))
        files = _wind(options, folder)
    if files:
        print(f"Written: {', '.join(files)} in {options.out}", file=sys.stderr if options.json else sys.stdout)


def _wind(options: WindOptions, folder: Path | None) -> tuple[str, ...]:
    """Print, and write into the folder; the names of what was written."""
    coil, json, changes = options.coil, options.json, options.changes
    target = None if options.wanted is None else read_quantity("--for", options.wanted, "resistance", "inductance")
    temperature = None if options.at is None else read_temperature("--at", options.at)
    wire = None if options.spool is None else read_quantity("--spool", options.spool, "mass")[0]
    case = load_case(options.which, changes)
    several = len(case.coils()) > 1
    if coil is not None and not several:
        raise CaseError(f"--coil: received {shown(coil)}, but this case has one coil; leave it out")
    from stringflux.postprocess.coil.winding import coils_from

    from ..jobs.wind import WoundCoils, case_of_turns
    from ..papers.winding import print_winding
    from ..solved.windings import coil_windings, connection_words

    windings = coil_windings(case, temperature)
    coils = WoundCoils(case=case, windings=windings)
    shows = range(len(windings)) if coil is None else (coils.coil(coil),)
    made = windings[shows[0]]
    if target is None:
        found = None
    elif several:
        found = _wanted_of(coils, coils.coil(coil), *target, quiet=json)
    else:
        found = _wanted(coils, made, *target, quiet=json)
    files: tuple[str, ...] = ()
    if folder is not None:
        sheet, wound = case, windings
        if found is not None and found.fits:
            sheet = case_of_turns(case, coils.coil(coil) if several else 0, found.turns)
            wound = coil_windings(sheet, temperature)
        files = _write_sheet(sheet, find_case(options.which).stem, wound, shows, folder)
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
    if several:
        total = coils.resistance(0, windings[0].turns)
        to.print(f"At the terminals, {connection_words(case)}: {total / 1e3:.4g} kohm at {made.temperature:g} °C.",
                 markup=False)
    if found is not None:
        _print_wanted(found, made, to)
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


def _wanted_of(coils: WoundCoils, at: int, value: float, kind: str, *, quiet: bool) -> Wanted:
    """Turns on one coil of several for a value at the terminals."""
    from stringflux.postprocess.coil.winding import turns_that_fit

    from ..jobs.wind import settled_turns, solved_coils

    made, inductance = coils.windings[at], None
    if kind == "inductance":
        with shown_progress(bar_only=quiet) as progress:
            def told(stage: str) -> None:
                progress(stage, 0.5)

            coils = solved_coils(coils.case, coils.windings, "normal", told)
            turns = settled_turns(coils, value, at, "normal", told)
        inductance = coils.inductance_with(at, made.turns)
    else:
        turns = coils.turns_for(kind, value, at)
    whole = max(round(turns), 1)
    return Wanted(kind=kind, value=value, turns=whole, fits=whole <= turns_that_fit(made), inductance=inductance,
                  coil=coils.case.coil_names()[at], resistance=coils.resistance(at, whole))


def _wanted(coils: WoundCoils, made: Winding, value: float, kind: str, *, quiet: bool) -> Wanted:
    from stringflux.postprocess.coil.winding import turns_for_inductance, turns_for_resistance, turns_that_fit

    from ..jobs.wind import settled_turns, solved_coils

    inductance, moves = None, coils.case.coil.moves_with_turns
    if kind == "resistance":
        turns = coils.turns_for(kind, value, 0) if moves else turns_for_resistance(made, value)
    else:
        with shown_progress(bar_only=quiet) as progress:
            def told(stage: str) -> None:
                progress(stage, 0.5)

            coils = solved_coils(coils.case, [made], "normal", told)
            inductance = coils.inductance_with(0, made.turns)
            turns = settled_turns(coils, value, 0, "normal", told) if moves else turns_for_inductance(
                made.turns, inductance, value)
    whole = max(round(turns), 1)
    return Wanted(kind=kind, value=value, turns=whole, fits=whole <= turns_that_fit(made), inductance=inductance,
                  resistance=coils.resistance(0, whole))


def _print_wanted(found: Wanted, made: Winding, to: Console) -> None:
    if found.coil:
        unit, size = ("kohm", 1e-3) if found.kind == "resistance" else ("H", 1.0)
        to.print(f"\nFor {found.value * size:.4g} {unit} at the terminals: {found.turns} turns on {found.coil}, all "
                 f"else as it is (now {made.turns:g}).", style="bold", markup=False)
        resistance = (found.resistance or 0.0) / 1e3
        to.print(f"Resistance at the terminals: {resistance:.4g} kohm at {made.temperature:g} °C.")
        _print_fit(found, made, to)
        return
    if found.kind == "resistance":
        what = f"{found.value / 1e3:.4g} kohm at {made.temperature:g} °C"
        has = f"{made.turns:g} turns have {made.resistance / 1e3:.4g} kohm"
    else:
        what = f"{found.value:.4g} H"
        has = f"{made.turns:g} turns have {found.inductance or 0.0:.4g} H"
    to.print(f"\nFor {what}: {found.turns} turns in the same window ({has}).", style="bold", markup=False)
    if found.kind == "inductance":
        resistance = found.resistance or 0.0
        to.print(f"Their resistance: {resistance / 1e3:.4g} kohm at {made.temperature:g} °C.")
    _print_fit(found, made, to)


def _print_fit(found: Wanted, made: Winding, to: Console) -> None:
    from stringflux.postprocess.coil.winding import turns_that_fit

    if not found.fits and made.packed_known:
        to.print(f"They do not fit: {turns_that_fit(made)} do, packed as the case says. Take thinner wire or a "
                 "larger window.")
    elif not found.fits:
        to.print(f"They do not fit: at most {turns_that_fit(made)} do. Take thinner wire or a larger window.")
    elif found.turns > made.packings[0].most_turns:
        to.print("That is more than a scattered winding usually holds here.")
