"""The commands about plucked strings, as :mod:`.cli` registers them."""

from __future__ import annotations

from typing import Annotated

import typer

from .options import Changes, Json, Out, Quality, Verbose, Which, read_changes


def signal(
    case: Which,
    pluck: Annotated[
        str | None,
        typer.Option("--pluck", metavar="LENGTH", show_default=False, help="Displacement; 1mm if left out."),
    ] = None,
    force: Annotated[
        str | None,
        typer.Option("--force", metavar="FORCE", show_default=False, help="Or equal force, such as 1N."),
    ] = None,
    at: Annotated[
        str, typer.Option("--at", metavar="PART", help="Where, as a part of the string from the bridge.")
    ] = "1/8",
    angle: Annotated[
        str, typer.Option("--angle", metavar="ANGLE", help="0deg: across the strings; 90deg: off the top plate.")
    ] = "45deg",
    loaded: Annotated[
        bool, typer.Option("--loaded", help="At the amplifier: through eddy currents, controls and cable.")
    ] = False,
    out: Out = None,
    quality: Quality = "normal",
    changes: Changes = None,
    json: Json = False,
    verbose: Verbose = 0,
) -> None:
    """Pluck every string: millivolts, harmonics, sound files."""
    from .command_signal import run_signal

    run_signal(case, out=out, quality=quality, changes=read_changes(changes), pluck=pluck, force=force, at=at,
               angle=angle, loaded=loaded, json=json)


def pull(case: Which, quality: Quality = "normal", changes: Changes = None, json: Json = False,
         verbose: Verbose = 0) -> None:
    """How the magnets pull the strings out of tune."""
    from .command_pull import run_pull

    run_pull(case, quality=quality, changes=read_changes(changes), json=json)


def hum(case: Which, quality: Quality = "normal", changes: Changes = None, json: Json = False,
        verbose: Verbose = 0) -> None:
    """How much of the mains the pickup hears."""
    from .command_hum import run_hum

    run_hum(case, quality=quality, changes=read_changes(changes), json=json)
