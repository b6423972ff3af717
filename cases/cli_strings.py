"""The commands about plucked strings, as :mod:`.cli` registers them."""

from __future__ import annotations

from typing import Annotated

import typer

from .terminal.options import Changes, Json, Out, Quality, Verbose, Which, read_changes

PluckBy = Annotated[
    str | None,
    typer.Option("--pluck", metavar="LENGTH", show_default=False, help="Displacement; 1mm if left out."),
]
PluckForce = Annotated[
    str | None, typer.Option("--force", metavar="FORCE", show_default=False, help="Or equal force, such as 1N.")
]
PluckAt = Annotated[str, typer.Option("--at", metavar="PART", help="Where, as a part of the string from the bridge.")]
PluckAngle = Annotated[
    str, typer.Option("--angle", metavar="ANGLE", help="0deg: across the strings; 90deg: off the top plate.")
]


def signal(
    case: Which,
    pluck: PluckBy = None,
    force: PluckForce = None,
    at: PluckAt = "1/8",
    angle: PluckAngle = "45deg",
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
    from .commands.signal import run_signal

    run_signal(case, out=out, quality=quality, changes=read_changes(changes), pluck=pluck, force=force, at=at,
               angle=angle, loaded=loaded, json=json)


def pull(case: Which, quality: Quality = "normal", changes: Changes = None, json: Json = False,
         verbose: Verbose = 0) -> None:
    """How the magnets pull the strings out of tune."""
    from .commands.pull import run_pull

    run_pull(case, quality=quality, changes=read_changes(changes), json=json)


def hum(case: Which, quality: Quality = "normal", changes: Changes = None, json: Json = False,
        verbose: Verbose = 0) -> None:
    """How much of the mains the pickup hears."""
    from .commands.hum import run_hum

    run_hum(case, quality=quality, changes=read_changes(changes), json=json)


def mix(
    file: Annotated[str, typer.Argument(metavar="FILE", help="A mix file or a shipped mix.", show_default=False)],
    pluck: PluckBy = None,
    force: PluckForce = None,
    at: PluckAt = "1/8",
    angle: PluckAngle = "45deg",
    out: Out = None,
    quality: Quality = "normal",
    json: Json = False,
    verbose: Verbose = 0,
) -> None:
    """Several pickups through their controls: levels, resonance."""
    from .commands.mix import run_mix

    run_mix(file, out=out, quality=quality, pluck=pluck, force=force, at=at, angle=angle, json=json)
