"""`stringflux verify`: one string of a case by the fast chain and as a 3-D solid, side by side."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console

from stringflux.geometry.errors import CaseError, OutputError
from stringflux.geometry.units import shown, within

from ..files.load import load_case
from ..output.csv_table import csv_text
from ..output.document import CaseSource, case_source, document
from ..output.folder import FolderKind, replaced_folder
from ..terminal.field import unit_lines
from ..terminal.options import OutOptions, Units, said_in
from ..terminal.progress import said_time, shown_progress
from ..terminal.tables import console, headed
from ..terminal.words import print_oddities

if TYPE_CHECKING:
    from stringflux.geometry.case.model import Case
    from stringflux.postprocess.results.verification import Verification

    from ..jobs.verify_meshes import VerifyNumerics

MARK = "verify.json"
UNITS = {**dict.fromkeys(("shift", "axis_height", "gap", "x"), "m"), "quick_at_rest": "V s/m", "seconds": "s"}
HEADS = ("figure", "unit", "quick model", "quick model error", "3-D", "3-D error", "difference", "target")
FILES = (MARK, "verify.csv", "verify.png", "verify.svg")
KIND = FolderKind(MARK, r"verify\.(csv|png|svg)")
# head, unit of the table, factor from SI, unit of the files; flux densities go by --units in the table
ROWS = {
    "bias": ("field at string", "mT", 1e3, "T"),
    "reciprocal": ("coil field at 1 A", "mT/A", 1e3, "T/A"),
    "inductance": ("L", "H", 1.0, "H"),
    "linkage": ("λ at rest", "µWb", 1e6, "Wb"),
    "linkage_low": ("λ lower", "µWb", 1e6, "Wb"),
    "linkage_high": ("λ higher", "µWb", 1e6, "Wb"),
    "sensitivity": ("S between them", "mV per m/s", 1e3, "V s/m"),
}


@dataclass(frozen=True, kw_only=True)
class VerifyOptions(OutOptions):
    """What the command line says; None where it says nothing."""

    string: Annotated[
        int | None,
        typer.Option("--string", metavar="N", show_default=False, help="The first plain one if left out."),
    ] = None
    within: Annotated[
        str, typer.Option("--within", metavar="PERCENT", help="Finer 3-D meshes until they are this sure.")
    ] = "0.5%"
    memory: Annotated[
        str | None,
        typer.Option("--memory", metavar="SIZE", show_default=False, help="At most this, such as 4GB."),
    ] = None
    units: Units = "both"


@said_in(VerifyOptions)
def verify(options: VerifyOptions) -> None:
    """Everything that can be refused is refused before the computation starts."""
    run(options)


def run(options: VerifyOptions, meshes: VerifyNumerics | None = None) -> None:
    """The command, with other meshes than the program's where they are given."""
    from ..jobs.verify_needs import read_memory

    limit, share = None if options.memory is None else read_memory(options.memory), _share(options.within)
    json, out = options.json, options.out
    case, source = load_case(options.which, options.changes), case_source(options.which, options.changes)
    with ExitStack() as stack:
        folder = None if out is None else stack.enter_context(replaced_folder(out, KIND))
        from ..jobs.verify import verify as verified  # numerics: loaded once the case is known to be good
        from ..jobs.verify_meshes import SHIPPED

        with shown_progress(bar_only=json) as progress:
            found = verified(case, string=options.string, quality=options.quality, within=share, memory=limit,
                             progress=progress, say=lambda words: print(words, file=sys.stderr, flush=True),
                             meshes=meshes or SHIPPED)
        text = _document(case, source, found)
        if json:
            sys.stdout.write(text)
        else:
            print_verification(found, console(), options.units)
            print_oddities(case, console())
        sys.stdout.flush()
        if folder is not None:
            _write(folder, found, text)
    words = sys.stderr if json else sys.stdout
    if out is not None:
        print(f"Results: {out} ({said_time(found.seconds)})", file=words)
    elif not json:
        print(f"Took {said_time(found.seconds)}. With --out DIR the table and a figure are written there.")


def _share(text: str) -> float:
    try:
        value = float(text.strip().removesuffix("%")) / 100
    except ValueError:
        value = 0.0
    if not within(value, 1e-4, 0.1):
        raise CaseError(f"--within: received {shown(text)}; write a percentage from 0.01% to 10%, such as 0.5%")
    return value


def print_verification(found: Verification, to: Console, units: str = "both") -> None:
    """The table and what has to be said about it."""
    to.print(found.title or "Untitled case", style="bold", markup=False)
    core = ", its core alone" if found.core_only else ""
    rows = [(name, *unit, i) for name in ROWS for i, unit in enumerate(unit_lines(*ROWS[name][1:3], units))]
    columns = {
        "": ["" if i else ROWS[n][0] for n, *_, i in rows],
        "Unit": [unit for _, unit, *_ in rows],
        "Quick\nmodel": [_digits(getattr(found.chain, n) * size) for n, _, size, _ in rows],
        "±\n%": [f"{100 * found.chain_error(n):.2f}" for n, *_ in rows],
        "3-D": [_digits(getattr(found.solid, n) * size) for n, _, size, _ in rows],
        "± \n%": [f"{100 * found.solid_error(n):.2f}" for n, *_ in rows],
        "Difference\n%": [f"{100 * found.difference(n):+.2f}" for n, *_ in rows],
        "Target\n%": [f"{100 * found.TARGETS[n]:g}" for n, *_ in rows],
    }
    title = f"String {found.string}{core}: ∅ {2e3 * found.radius:.3g} mm, {1e3 * found.gap:.2f} mm over {found.below}"
    to.print(headed(title, columns, left=2))
    for line in _words(found):
        to.print(line, markup=False, soft_wrap=True)


def _words(found: Verification) -> list[str]:
    meshes = ", ".join(f"{level.unknowns:,}".replace(",", " ") for level in found.levels)
    step = f"{1e3 * found.shift:.3g} mm"
    lines = [
        f"Fields are means of the z components over the metal within 1 mm of x = {1e3 * found.x:.3g} mm; lower and "
        f"higher are {step}, and S is their difference over {2e3 * found.shift:.3g} mm, both ways. At rest the "
        f"quick model has S {1e3 * found.slope_at_rest:.4g} mV per m/s.",
        "Both without the memory of the string's steel, on its one curve; `predict` goes by its memory.",
        f"3-D meshes of {meshes} unknowns{_halves(found)}. ± of the quick model: its change to another --quality; of "
        "3-D: what the last refinement leaves.",
    ]
    beyond = found.beyond
    lines.append("Everything agrees within its target." if not beyond
                 else f"Beyond the target: {', '.join(ROWS[n][0] for n in beyond)}.")
    return lines + [f"Note: {note}." for note in found.notes]


def _halves(found: Verification) -> str:
    planes = ["xy"[axis] for axis in found.symmetry.axes]
    return f", mirrored in {' and '.join(p + ' = 0' for p in planes)}" if planes else ""


def _digits(value: float) -> str:
    return f"{value:#.4g}".rstrip(".") if abs(value) < 1e4 else f"{value:.0f}"


def _document(case: Case, source: CaseSource, found: Verification) -> str:
    result = {
        "string": found.string, "core_only": found.core_only, "quality": found.quality, "shift": found.shift,
        "axis_height": found.axis_height, "gap": found.gap, "x": found.x, "over": found.below,
        "figures": {n: {
            "unit": ROWS[n][3], "quick": getattr(found.chain, n), "quick_error": found.chain_error(n),
            "solid": getattr(found.solid, n), "solid_error": found.solid_error(n), "difference": found.difference(n),
            "target": found.TARGETS[n]} for n in ROWS},
        "quick_at_rest": found.slope_at_rest, "meshes": found.levels,
        "mirrored": (found.symmetry.x, found.symmetry.y),
        "agrees": not found.beyond, "beyond_target": found.beyond, "notes": found.notes, "seconds": found.seconds,
    }
    return document("verify", case, source, result, UNITS, FILES)


def _write(folder: Path, found: Verification, text: str) -> None:
    from ..output.figure_files import save_figure

    lines = csv_text(HEADS, [
        (n, ROWS[n][3], getattr(found.chain, n), found.chain_error(n), getattr(found.solid, n), found.solid_error(n),
         found.difference(n), found.TARGETS[n]) for n in ROWS])
    try:
        (folder / "verify.csv").write_text(lines, encoding="utf-8", newline="")
        save_figure(found.figures()["verify"], folder / "verify.png", folder / "verify.svg")
        (folder / MARK).write_text(text, encoding="utf-8")
    except OSError as error:
        raise OutputError(f"--out: the results cannot be written ({error.strerror or error})") from None
