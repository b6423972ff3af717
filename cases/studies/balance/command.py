"""`stringflux balance`: the tilt, or the height of each pole, that brings the strings to a wanted profile."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from stringflux.geometry.case.model import Case
from stringflux.geometry.case.threads import turn_words
from stringflux.geometry.errors import CaseError, OutputError
from stringflux.geometry.notes import pitch_words
from stringflux.geometry.units import mm, shown, within

from ...files.load import find_case, load_case, read_content
from ...output.document import CaseSource, case_source, document
from ...output.folder import FolderKind, replaced_folder
from ...solved.choice import choose
from ...terminal.options import OutOptions, PluckOptions, as_options, said_in
from ...terminal.progress import shown_progress
from ...terminal.quantities import read_quantity
from ...terminal.tables import Column, console, table
from ...terminal.words import print_oddities

if TYPE_CHECKING:
    from .problem import BalanceRequest
    from .result import Balanced

MARK, NEW_CASE, SHEET = "balance.json", "balanced.toml", "setting.html"
FILES = (MARK, NEW_CASE, "setting.png", "setting.svg", SHEET)
KIND = FolderKind(MARK, r"balanced\.toml|setting\.(png|svg|html)")
UNITS = {
    **dict.fromkeys(("start", "movement", "reading", "unrounded", "gap_before", "gap_after", "travel", "side_travel",
                     "least_gap", "pitch"), "m"),
    **dict.fromkeys(("profile", "off_before", "off_after", "error_of_tenth_mm", "misses", "louder"), "dB"),
    "quarter_turn": "dB",
    **dict.fromkeys(("level_before", "level_after"), "dB over 1 V s/m, or over 1 V"),
    **dict.fromkeys(("pull", "pull_before", "pull_after"), "cent"),
}


@dataclass(frozen=True, kw_only=True)
class BalanceOptions(OutOptions):
    """What the command line says; None where it says nothing."""

    by: Annotated[
        str, typer.Option("--by", metavar="tilt|poles|both", help="The whole pickup, each pole's height, or both.")
    ] = "poles"
    measure: Annotated[
        str,
        typer.Option("--measure", metavar="output|sensitivity", show_default=False,
                     help="output: rms at equal pluck, the usual where bridge_distance is given; or at equal speed."),
    ] = ""
    profile: Annotated[
        str,
        typer.Option("--profile", metavar="DB,DB,...", help="Wanted dB of each string, or FROM:TO, or flat."),
    ] = "flat"
    travel: Annotated[
        str | None,
        typer.Option("--travel", metavar="LENGTH", show_default=False, help="Of a pole either way; 1.5mm."),
    ] = None
    side_travel: Annotated[
        str | None,
        typer.Option("--side-travel", metavar="LENGTH", show_default=False, help="Of a side either way; 2mm."),
    ] = None
    gap: Annotated[
        str | None,
        typer.Option("--gap", metavar="LENGTH", show_default=False, help="Smallest gap; 1.5mm if left out."),
    ] = None
    pull: Annotated[
        float | None,
        typer.Option("--pull", metavar="CENTS", show_default=False, help="Most the magnets may bend a pitch."),
    ] = None
    keep_level: Annotated[bool, typer.Option("--keep-level", help="Keep the strings' mean level too.")] = False
    row: Annotated[
        str | None,
        typer.Option("--row", metavar="COIL", show_default=False, help="Whose poles move; those of the first row."),
    ] = None


@said_in(BalanceOptions)
def balance(options: BalanceOptions) -> None:
    """Everything that can be refused is refused before the computation starts."""
    which, changes, json = options.which, options.changes, options.json
    case, source = load_case(which, changes), case_source(which, changes)
    choose(case)
    request = read_request(case, options)
    path = find_case(which)
    with ExitStack() as stack:
        folder = None if options.out is None else stack.enter_context(replaced_folder(options.out, KIND))
        from .problem import balance_problem
        from .study import balance_case

        data = read_content(which, changes)
        if balance_problem(case, request).solid:
            from ..designs.effort import words_of_a_balance

            print(words_of_a_balance(case, options.quality), file=sys.stderr, flush=True)
        with shown_progress(bar_only=json) as progress:
            found = balance_case(data, case, request, quality=options.quality, progress=progress,
                                 pluck=PluckOptions().read())
        text = _document(source, case, found)
        if json:
            sys.stdout.write(text)
        else:
            _print(case, found)
            print_oddities(case, console())
        sys.stdout.flush()
        if folder is not None:
            _write(folder, path, data, changes, found, text)
    if options.out is not None:
        print(f"Written: {', '.join(FILES)} in {options.out}", file=sys.stderr if json else sys.stdout)
    elif not json:
        print("With --out DIR the new case file and a figure are written there.")


def read_request(case: Case, options: BalanceOptions) -> BalanceRequest:
    """What the options ask for."""
    from .problem import CLOSEST, LEAST_GAP, LEAST_TRAVEL, SIDE_TRAVEL, TRAVEL, BalanceRequest, read_profile

    by = options.by
    with as_options():
        BalanceRequest(by=by, measure=options.measure, pull=options.pull)
    if by == "tilt" and options.travel is not None:
        raise CaseError("--travel: received with --by tilt, where no pole moves; write --side-travel, or drop it")
    if by == "tilt" and options.row is not None:
        raise CaseError("--row: received with --by tilt, where no pole moves; write --by poles or both, or drop it")
    if by == "poles" and options.side_travel is not None:
        raise CaseError("--side-travel: received with --by poles, where the pickup stays; write --travel, or drop it")
    return BalanceRequest(
        by=by, measure=options.measure, profile=read_profile(options.profile, len(case.string)),
        pull=options.pull, keep_level=options.keep_level, row=options.row or "",
        travel=_length("--travel", options.travel, TRAVEL, LEAST_TRAVEL),
        side_travel=_length("--side-travel", options.side_travel, SIDE_TRAVEL, LEAST_TRAVEL),
        least_gap=_length("--gap", options.gap, LEAST_GAP, CLOSEST),
    )


def _length(option: str, text: str | None, usual: float, low: float) -> float:
    from .problem import MOST_TRAVEL

    if text is None:
        return usual
    value = read_quantity(option, text, "length")[0]
    if not within(value, low, MOST_TRAVEL):
        raise CaseError(f"{option}: received {shown(text)}; write a length from {mm(low)} to {mm(MOST_TRAVEL)}")
    return value


def _print(case: Case, found: Balanced) -> None:
    from .words import bounds, how_read, sentences

    to = console()
    to.print(case.title or "Untitled case", style="bold", markup=False)
    for sentence in (*bounds(found), *sentences(found)):
        to.print(sentence, markup=False, highlight=False, soft_wrap=True)
    to.print(table("Setting", _setting(found), left=1))
    to.print(how_read(found), soft_wrap=True)
    to.print(table("Strings", _strings(case, found)))
    by = "at equal pluck (rms)" if found.problem.request.measure == "output" else "by sensitivity"
    to.print(f"Before, after: over what is wanted, {by}, {_level_words(found)}. 0.1 mm: what it does to a string to "
             "be so much nearer than set.", soft_wrap=True)


def _level_words(found: Balanced) -> str:
    return "the mean level kept" if found.problem.request.keep_level else "whatever the mean level"


def _setting(found: Balanced) -> list[Column]:
    rows = list(zip(found.unknowns, found.movement, strict=True))
    plain = [u.told_by_movement for u, _ in rows]

    def cells(values: Sequence[float]) -> tuple[str, ...]:
        return tuple("–" if bare else f"{1e3 * v:.2f}" for v, bare in zip(values, plain, strict=True))

    turned = [] if all(t is None for t in found.turns) else [
        Column(head="Turn\nscrew", cells=tuple("–" if t is None else turn_words(t) for t in found.turns)),
        Column(head="A quarter\nup, dB", cells=tuple("–" if q is None else f"{q:+.2f}" for q in found.quarter_turn))]
    return [
        Column(head="", cells=tuple(u.name[0].upper() + u.name[1:] for u, _ in rows)),
        Column(head="Now\nmm", cells=cells([u.start for u, _ in rows])),
        Column(head="Set to\nmm", cells=cells([u.reading(m) for u, m in rows])),
        Column(head="Towards the strings\nmm", cells=tuple(
            "stays" if abs(m) < 1e-9 else f"{1e3 * m:+.2f}" for _, m in rows)),
        *turned,
    ]


def _strings(case: Case, found: Balanced) -> list[Column]:
    (gap_before, gap_after), request = found.gaps, found.problem.request
    n = range(len(gap_after))
    columns = {
        "No.": [str(i + 1) for i in n],
        "Pitch": [pitch_words(f) for f in (s.pitch for s in case.string)],
        "Wanted\ndB": [f"{w:+.1f}" for w in found.problem.wanted] if any(request.profile) else [],
        "Before\ndB": [f"{v:+.2f}" for v in found.off_before],
        "After\ndB": [f"{v:+.2f}" for v in found.off_after],
        "0.1 mm\ndB": [f"{v:+.2f}" for v in found.error],
        "Gap now\nmm": [f"{1e3 * g:.2f}" for g in gap_before],
        "then\nmm": [f"{1e3 * g:.2f}" for g in gap_after],
    }
    if found.before.pull is not None and found.after.pull is not None:
        columns["Pull now\ncent"] = [f"{p:.2f}" for p in found.before.pull]
        columns["then\ncent"] = [f"{p:.2f}" for p in found.after.pull]
    return [Column(head=head, cells=tuple(c)) for head, c in columns.items() if c]



def _document(source: CaseSource, case: Case, found: Balanced) -> str:
    from .words import sentences

    setting = [{"name": u.name, "kind": u.kind, "number": u.number, "start": u.start, "movement": m, "unrounded": r,
                "reading": u.reading(m), "pitch": None if u.screw is None else u.screw.pitch, "turns": t,
                "quarter_turn": q}
               for u, m, r, t, q in zip(found.unknowns, found.movement, found.unrounded, found.turns,
                                        found.quarter_turn, strict=True)]
    (gaps, new), (before, after) = found.gaps, (found.before, found.after)
    strings = [{"number": i + 1, "level_before": before.level[i], "level_after": after.level[i],
                "off_before": found.off_before[i], "off_after": found.off_after[i],
                "error_of_tenth_mm": found.error[i], "gap_before": gaps[i], "gap_after": new[i],
                "pull_before": None if before.pull is None else before.pull[i],
                "pull_after": None if after.pull is None else after.pull[i]} for i in range(len(gaps))]
    result = {"request": found.problem.request, "setting": setting, "strings": strings, "louder": found.louder,
               "held_back_by": [limit.words for limit in found.binding], "cost_of_limits": found.cost,
               "sentences": sentences(found), "misses": found.misses, "changes": dict(found.changes)}
    return document("balance", case, source, result, UNITS, FILES)


def _write(folder: Path, path: Path, data: Mapping[str, Any], changes: Mapping[str, Any], found: Balanced,
           text: str) -> None:
    from ...files.changed import with_changes
    from ...files.named_files import text_with_whole_paths
    from ...output.figure_files import save_figure
    from .setting import changed_content
    from .sheet import setting_sheet

    wanted = changed_content(data, found.changes)
    request = found.problem.request
    text = text_with_whole_paths(path.read_text(encoding="utf-8-sig"), path.parent)
    made = with_changes(text, wanted, {**changes, **found.changes},
                        f"Balanced by {request.by}, measured by {request.measure}: stringflux balance {path.name}")
    try:
        (folder / NEW_CASE).write_text(made, encoding="utf-8")
        save_figure(found.figures()["setting"], folder / FILES[2], folder / FILES[3])
        (folder / SHEET).write_text(setting_sheet(found, path.stem), encoding="utf-8")
        (folder / MARK).write_text(text, encoding="utf-8")
    except OSError as error:
        raise OutputError(f"--out: the results cannot be written ({error.strerror or error})") from None
