"""The command that holds a case against 3-D, as :mod:`.cli` registers it."""

from __future__ import annotations

from typing import Annotated

import typer

from .terminal.options import Changes, Json, Out, Quality, Verbose, Which, read_changes


def verify(
    case: Which,
    string: Annotated[
        int | None,
        typer.Option("--string", metavar="N", show_default=False, help="The first plain one if left out."),
    ] = None,
    within: Annotated[
        str, typer.Option("--within", metavar="PERCENT", help="Finer 3-D meshes until they are this sure.")
    ] = "0.5%",
    memory: Annotated[
        str | None,
        typer.Option("--memory", metavar="SIZE", show_default=False, help="At most this, such as 4GB."),
    ] = None,
    out: Out = None,
    quality: Quality = "normal",
    changes: Changes = None,
    json: Json = False,
    verbose: Verbose = 0,
) -> None:
    """Hold a case against a full 3-D solution."""
    from .commands.verify import run_verify

    run_verify(case, string=string, within=within, memory=memory, out=out, quality=quality,
               changes=read_changes(changes), json=json)
