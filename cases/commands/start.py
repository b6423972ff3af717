"""`stringflux start`: a commented case to edit: the template, one like another, or one by question and answer."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from stringflux.geometry.errors import CaseError

from ..files.start import next_line, write_like, write_start, write_text
from ..files.whole import refuse_present
from ..terminal.options import Changes, Force, Verbose, cases_that_begin, read_changes

Like = Annotated[
    str | None,
    typer.Option("--like", metavar="CASE", show_default=False, autocompletion=cases_that_begin,
                 help="With the keys and values of a case, and what they mean."),
]


def start(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The new case file.", show_default=False)],
    like: Like = None,
    given: Changes = None,
    ask: Annotated[bool, typer.Option("--ask", help="By question and answer.")] = False,
    force: Force = False,
    verbose: Verbose = 0,
) -> None:
    """Write the file, and say what comes next."""
    if given and like is None:
        raise CaseError("--set: received without --like; it changes values of the case that is named there")
    if ask and like is not None:
        raise CaseError("--ask: received together with --like; keep one of them")
    if ask:
        path = _asked(file, force=force)
    elif like is not None:
        path = write_like(file, like, read_changes(given), force=force)
    else:
        path = write_start(file, force=force)
    lines = "\n".join(f"  {next_line(command, str(path))}" for command in ("check-case", "predict"))
    print(f"Wrote {path}. Edit it, then:\n{lines}")


def _asked(file: str, *, force: bool) -> Path:
    refuse_present(file, argument="FILE", force=force)  # before the first question
    from ..terminal.case_dialogue import asked_case
    from ..terminal.dialogue import Dialogue

    return write_text(file, asked_case(Dialogue("--ask")), force=force)
