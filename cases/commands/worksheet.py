"""`stringflux worksheet`: a page of questions for a class, and its key."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import typer

from stringflux.geometry.errors import CaseError

from ..files.load import find_case, load_case
from ..files.pages import writable
from ..files.whole import write_new
from ..terminal.options import StringOptions, said_in
from ..terminal.progress import shown_progress
from ..terminal.tables import console
from ..terminal.words import print_oddities


@dataclass(frozen=True, kw_only=True)
class WorksheetOptions(StringOptions):
    """The options of `worksheet`."""

    out: Annotated[
        str | None,
        typer.Option("--out", metavar="FILE", show_default=False,
                     help="HTML file; CASE-worksheet.html if left out, CASE-key.html with --answers."),
    ] = None
    answers: Annotated[bool, typer.Option("--answers", help="Write the key, with the steps and tolerances.")] = False
    seed: Annotated[
        int | None,
        typer.Option("--seed", metavar="N", show_default=False,
                     help="Another sheet for each number, so that neighbours have other answers."),
    ] = None
    string: Annotated[int, typer.Option("--string", metavar="N", help="The string, from 1.")] = 1


@said_in(WorksheetOptions)
def worksheet(options: WorksheetOptions) -> None:
    """Everything that can be refused is refused before the computation starts."""
    from stringflux.postprocess.worksheet.page import GENERATOR, page
    from stringflux.postprocess.worksheet.questions import sheet_of

    from ..demonstrations.worksheet import MOST_SEED, refuse, worksheet_figures
    from ..solving import solve

    which, seed = options.which, options.seed
    case = load_case(which, options.changes)
    if seed is not None and not 0 <= seed <= MOST_SEED:
        raise CaseError(f"--seed: received {seed}; write a whole number from 0 to {MOST_SEED}")
    refuse(case, options.string)
    name = find_case(which).stem
    ending = f"-{seed}" if seed is not None else ""
    path = writable(f"{name}-{'key' if options.answers else 'worksheet'}{ending}.html" if options.out is None
                    else options.out, GENERATOR, "worksheet")
    with shown_progress() as progress:
        figures, section = worksheet_figures(solve(case, quality=options.quality), options.string, seed, progress)
        text = page(sheet_of(figures), section, name=name, seed=seed, answers=options.answers)
    write_new(str(path), text, argument="--out", force=True)
    print_oddities(case, console())
    print(f"{'Key' if options.answers else 'Worksheet'}: {path}. Print it from a browser: one page of A4 or letter"
          f"{', the key up to two' if options.answers else ''}.")
    if not options.answers:
        said = f" --seed {seed}" if seed is not None else ""
        print(f"The key: the same command{said and f' with{said}'} and --answers.")
