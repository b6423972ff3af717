"""`stringflux check-case` and `stringflux schema`: what a case says, without computing it."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

import typer

from stringflux.geometry.case.coil import Coil
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.case.second_coils import CONNECTIONS
from stringflux.geometry.case.threads import Screw
from stringflux.geometry.errors import OutputError
from stringflux.geometry.notes import pitch_words
from stringflux.geometry.shapes.row import PartShape, Racetrack
from stringflux.geometry.units import parse, show, shown

from ..files.load import find_case, load_case, read_content
from ..files.whole import usable_folder, write_new
from ..terminal.lengths import length_cell, length_head, written_in_inches
from ..terminal.options import Force, ReadOptions, Verbose, said_in
from ..terminal.tables import Column, console, fitting, over_the_edge, table
from ..terminal.words import print_oddities

if TYPE_CHECKING:
    from rich.console import Console

INCH = 25.4e-3


@dataclass(frozen=True, kw_only=True)
class CheckOptions(ReadOptions):
    """The options of `check-case`."""

    out: Annotated[str, typer.Option("--out", metavar="DIR", help="Folder for the drawing.")] = "."


@said_in(CheckOptions)
def check_case(options: CheckOptions) -> None:
    """Read, build the materials, say what was understood, draw."""
    case = load_case(options.which, options.changes, without_strings=True)
    name = find_case(options.which).stem
    folder = usable_folder(options.out)
    from ..solved.materials import case_materials

    case_materials(case)  # curves are checked where they are built
    _print_case(case, read_content(options.which, options.changes))
    if not all(row.is_round for row in case.rows()):
        from ..studies.designs.effort import words_beyond_a_row  # loads the kernel and numerics

        if words := words_beyond_a_row(case, "normal"):
            print(words)
    from stringflux.postprocess.drawings.to_scale import drawing

    from ..output.figure_files import save_figure

    png, svg = (folder / f"{name}-drawing.{kind}" for kind in ("png", "svg"))
    try:
        save_figure(drawing(case), png, svg)
    except OSError as error:
        raise OutputError(f"--out: {shown(str(png))} cannot be written ({error.strerror})") from None
    print(f"The case is good. Drawing: {png} and {svg.name}")


def _print_case(case: Case, content: Mapping[str, Any]) -> None:
    from stringflux.geometry.case.phase import COMPASS, pairs

    to = console()
    to.print(case.title or "Untitled case", style="bold", markup=False)
    if case.rows():
        _print_table("Poles", _poles(case, content), to)
    if case.body:
        _print_table("Bodies", _bodies(case), to)
    if case.string:
        to.print(table("Strings", _strings(case, content)))
    to.print()
    for name, coil, track in zip(case.coil_names(), case.coils(), case.racetracks(), strict=True):
        to.print(_coil(name, coil, track, alone=case.is_plain_row), markup=False)
        if finished := _finished(coil):
            to.print(f"  {finished}", markup=False, soft_wrap=True)
    if case.second_coil:
        to.print(_connection(case), markup=False)
        for pair in pairs(case):
            to.print(pair.sentence, markup=False, soft_wrap=True)
    for sentence in _lead_and_screws(case):
        to.print(sentence, markup=False, soft_wrap=True)
    if any(body.polarity and body.state.charge > 0 for body in case.solid_bodies()):
        to.print(COMPASS, markup=False, soft_wrap=True)
    print_oddities(case, to)


def _print_table(title: str, columns: list[Column], to: Console) -> None:
    """Columns close together where they have no more room, and over the edge rather than cut off."""
    if (made := fitting(title, columns, to, left=2)) is not None:
        to.print(made)
    else:
        over_the_edge().print(table(title, columns, left=2, loose=False))


def _poles(case: Case, content: Mapping[str, Any]) -> list[Column]:
    from stringflux.geometry.case.upper_ends import upper_ends

    inches = written_in_inches(content)
    standing = [(row.row.x, pole) for row in case.rows() for pole in row.placed()]
    columns = {
        "No.": [str(i) for i in range(1, len(standing) + 1)],
        "Parts from the top down, mm": [", ".join(_part(p) for p in pole.shape.parts) for _, pole in standing],
        "Along\nmm": [f"{x * 1e3:.2f}" for x, _ in standing],
        "Across\nmm": [f"{pole.y * 1e3:.2f}" for _, pole in standing],
        length_head("Face at", inches=inches.face): [length_cell(pole.face, inches=inches.face)
                                                     for _, pole in standing],
        "Up": [end.letter for end in upper_ends(case) if end.pole],
        "Thread\nmm a\nturn": _pitches(screw for row in case.rows() for screw in row.screws()),
    }
    if all(x == 0 for x, _ in standing):
        del columns["Along\nmm"]
    if not any(columns["Thread\nmm a\nturn"]):
        del columns["Thread\nmm a\nturn"]
    return [Column(head=head, cells=tuple(cells)) for head, cells in columns.items()]


def _bodies(case: Case) -> list[Column]:
    """Each body by the box it fills."""
    from stringflux.geometry.case.upper_ends import upper_ends

    bodies = case.own_bodies()
    ends = {end.name: end.letter for end in upper_ends(case) if not end.pole}
    spans = [tuple(zip(*body.form.bounds, strict=True)) for body in bodies]
    columns = {
        "Name": [body.name for body in bodies],
        "Of": [f"{body.material}, {table.shape}" for body, table in zip(bodies, case.body, strict=True)],
        "North\npoints": [_direction(body.magnetised) for body in case.body],
        "Up": [ends.get(body.name, "") for body in bodies],
    }
    for head, axis in (("Along\nmm", 0), ("Across\nmm", 1), ("Height\nmm", 2)):
        columns[head] = [f"{low * 1e3:.4g} to {high * 1e3:.4g}" for low, high in (span[axis] for span in spans)]
    if any(pitches := _pitches(body.screw for body in case.body)):
        columns["Thread\nmm a\nturn"] = pitches
    return [Column(head=head, cells=tuple(cells)) for head, cells in columns.items()]


def _pitches(screws: Iterable[Screw | None]) -> list[str]:
    """How far a turn takes each that has a thread; "" for the others."""
    return ["" if screw is None else f"{screw.pitch * 1e3:.4g}" for screw in screws]


def _direction(magnetised: str | tuple[float, float, float] | None) -> str:
    if isinstance(magnetised, tuple):
        return "to [" + ", ".join(f"{v:g}" for v in magnetised) + "]"
    return magnetised or ""


def _coil(name: str, coil: Coil, track: Racetrack, *, alone: bool) -> str:
    low, high = track.inner_bounds
    head = "Coil" if name == "coil" else f"Coil {shown(name)}"
    across = f" and {track.y_centre * 1e3:.4g} mm across" if track.y_centre else ""
    place = "" if alone else f", middle at {track.x_centre * 1e3:.4g} mm along the strings{across}, {coil.winding}"
    core = ", round air" if coil.core else ""
    current = f", with a direct current of {show(coil.direct_current, 'current')}" if coil.direct_current else ""
    return (
        f"{head}: {coil.turns:g} turns of {coil.winding_wire().name} in a window of {coil.thickness * 1e3:.4g} by "
        f"{(track.top - track.bottom) * 1e3:.4g} mm{_wound(coil)}, inside {(high[0] - low[0]) * 1e3:.4g} by "
        f"{(high[1] - low[1]) * 1e3:.4g} mm{' over all, on a path of its own' if coil.path else ''}{place}"
        f"{core}{current}."
    )


def _wound(coil: Coil) -> str:
    if coil.wound_builds:
        thick = [b.build * 1e3 for b in coil.wound_builds]
        return f", wound {min(thick):.4g} to {max(thick):.4g} mm thick"
    return f", wound {coil.wound * 1e3:.4g} mm thick" if coil.moves_with_turns else ""


def _finished(coil: Coil) -> str:
    """What is done to a coil once it is wound: what fills it, where it is tapped, its leads; "" for nothing."""
    said = [f"potted in {coil.potted}"] if coil.potted else []
    if coil.taps:
        said.append(f"tapped at {' and '.join(f'{tap:g}' for tap in coil.taps)} turns, counted from the inside")
    leads = coil.leads
    if leads is not None and (ends := [(what, colour) for what, colour in (
            ("start", leads.start), ("finish", leads.finish)) if colour]):
        said.append("leads: " + ", ".join(f"{what} {shown(colour)}" for what, colour in ends))
    text = "; ".join(said)
    return f"{text[0].upper()}{text[1:]}." if text else ""


def _lead_and_screws(case: Case) -> list[str]:
    """The lead on which the pickup hangs, and the screws that set it, as far as the case has them."""
    lead, screws = case.lead, case.height_screws
    said = [] if not lead.length else [
        f"Lead: {show(lead.length, 'length')} with {show(lead.capacitance, 'capacitance of cable')}, together "
        f"{show(lead.farads, 'capacitance')}."]
    if screws is not None:
        said.append(f"Height screws: {show(screws.apart, 'length')} apart, {show(screws.thread, 'length')} a turn; "
                    f"turned clockwise, seen from the strings, one {screws.clockwise} the pickup.")
    return said


def _connection(case: Case) -> str:
    how, names = case.connection, case.coil_names()
    said = f"in {how.coils}" if how.coils in CONNECTIONS else f"{shown(how.coils)} alone"
    turned = ", ".join(shown(name) for name in names if name in how.reversed)
    return f"Connected: {said}{f'; ends exchanged: {turned}' if turned else ''}."


def _part(part: PartShape) -> str:
    return f"{part.material} {part.size.removeprefix('∅ ')}"


def _strings(case: Case, content: Mapping[str, Any]) -> list[Column]:
    strings = placed_strings(case)
    shapes, inches = [s.shape for s in strings], written_in_inches(content)
    columns: dict[str, list[str]] = {
        "No.": [str(s.number) for s in strings],
        "Pitch": [pitch_words(f) for f in (s.pitch for s in strings)],
        "Size\nmm": [f"{s.outer_radius * 2e3:.3f}" for s in shapes],
        "Size\nin": _inches(content),
        "Core\nmm": [f"{s.core_radius * 2e3:.3f}" if s.wrap_diameter else "" for s in shapes],
        "Across\nmm": [f"{s.y * 1e3:.2f}" for s in shapes],
        "Pole": [str(s.pole) for s in strings] if case.rows() else [],
        length_head("Gap", inches=inches.gap): [length_cell(s.gap, inches=inches.gap) for s in strings],
        "Mass\ng/m": [f"{s.unit_mass * 1e3:.3g}" for s in strings],
        "Tension\nN": [f"{s.tension:.1f}" for s in strings],
    }
    return [Column(head=head, cells=tuple(cells)) for head, cells in columns.items() if cells]


def _inches(content: Mapping[str, Any]) -> list[str]:
    """Gauges of the strings in inches, where the file writes one of them so."""
    gauges = [str(string["gauge"]) for string in content["string"]]
    if not any(gauge.rstrip().endswith(("in", "mil")) for gauge in gauges):
        return []
    return [f"{parse(gauge, 'length') / INCH:.4f}" for gauge in gauges]


def schema(
    out: Annotated[
        str | None, typer.Option("--out", metavar="FILE", show_default=False, help="Write it into this file.")
    ] = None,
    force: Force = False,
    verbose: Verbose = 0,
) -> None:
    """Print the schema, or write it into a new file."""
    from stringflux.geometry.reading.schema import case_schema

    text = json.dumps(case_schema(), indent=2) + "\n"
    if out is None:
        sys.stdout.write(text)
        return
    path = write_new(out, text, argument="--out", force=force)
    print(f"Wrote {path}")
