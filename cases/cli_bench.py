"""The command about readings from the bench, as :mod:`.cli` registers it."""

from __future__ import annotations

from typing import Annotated

import typer

from .terminal.options import Changes, Json, Out, Quality, Verbose, Which, read_changes


def readings(
    case: Which,
    file: Annotated[str, typer.Argument(metavar="FILE", help="Readings: a CSV file, or shipped ones by name.",
                                        show_default=False)],
    fit: Annotated[
        list[str] | None,
        typer.Option("--fit", metavar="NAME", show_default=False,
                     help="coercivity, charge (or -each), turns, capacitance, gap, probe, all."),
    ] = None,
    relative_to: Annotated[
        str | None,
        typer.Option("--relative-to", metavar="CASE", show_default=False, help="Case that FILE was read on."),
    ] = None,
    out: Out = None,
    quality: Quality = "normal",
    changes: Changes = None,
    json: Json = False,
    verbose: Verbose = 0,
) -> None:
    """Hold bench readings against the prediction, and fit."""
    from .commands.readings import run_readings

    run_readings(case, file, fit=fit or (), relative_to=relative_to, out=out, quality=quality,
                 changes=read_changes(changes), json=json)
