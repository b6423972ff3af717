"""`stringflux start`: a commented case to edit."""

from __future__ import annotations

from typing import Annotated

import typer

from ..files.start import next_line, write_start
from ..terminal.options import Force, Verbose


def start(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The new case file.", show_default=False)],
    force: Force = False,
    verbose: Verbose = 0,
) -> None:
    """Write the file, and say what comes next."""
    path = write_start(file, force=force)
    lines = "\n".join(f"  {next_line(command, str(path))}" for command in ("check-case", "predict"))
    print(f"Wrote {path}. Edit it, then:\n{lines}")
