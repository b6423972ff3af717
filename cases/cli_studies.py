"""The commands about many designs, as `cli` registers them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated

import typer

from .terminal.options import Changes, Json, Out, Quality, Verbose, Which, read_changes

Workers = Annotated[
    int | None,
    typer.Option("--workers", metavar="N", show_default=False, help="Processes here; all cores if left out."),
]
Cluster = Annotated[
    str | None,
    typer.Option("--cluster", metavar="ADDRESS", show_default=False, help="Compute on a running Dask scheduler."),
]
Resume = Annotated[bool, typer.Option("--resume", help="Go on with a study that was stopped.")]
Retry = Annotated[bool, typer.Option("--retry", help="The same, and try again whatever failed.")]
Yes = Annotated[bool, typer.Option("--yes", help="Do not ask before very many designs.")]


def compare(
    case: Which,
    vary: Annotated[
        list[str] | None,
        typer.Option(
            "--vary",
            metavar="FIELD=VALUES",
            show_default=False,
            help="--vary pole.part.material=alnico-3,alnico-5 --vary strings.gap=1.5mm:3.5mm:9",
        ),
    ] = None,
    study: Annotated[
        str | None, typer.Option("--study", metavar="FILE", show_default=False, help="A TOML file that says it all.")
    ] = None,
    paired: Annotated[bool, typer.Option("--paired", help="First values together, second ones ...")] = False,
    sample: Annotated[
        int | None,
        typer.Option("--sample", metavar="N", show_default=False, help="So many designs, evenly over all ranges."),
    ] = None,
    seed: Annotated[
        int | None, typer.Option("--seed", metavar="N", show_default=False, help="For another sample.")
    ] = None,
    rank: Annotated[
        list[str] | None,
        typer.Option("--rank", metavar="FIGURE,FIGURE", show_default=False, help="Best first: --rank output,pull"),
    ] = None,
    want: Annotated[
        list[str] | None,
        typer.Option("--want", metavar="FIGURE,FIGURE", show_default=False, help="Figures to compute besides."),
    ] = None,
    out: Out = None,
    quality: Quality = "normal",
    changes: Changes = None,
    workers: Workers = None,
    cluster: Cluster = None,
    resume: Resume = False,
    retry: Retry = False,
    yes: Yes = False,
    json: Json = False,
    verbose: Verbose = 0,
) -> None:
    """Compare designs that differ in some fields."""
    from .studies.compare.command import Options, run_compare

    options = Options(vary=vary or (), study=study, paired=paired, sample=sample, seed=seed, rank=rank or (),
                      want=want or (), out=out, quality=quality, workers=workers, cluster=cluster, resume=resume,
                      retry=retry, yes=yes, json=json)
    run_compare(case, options, read_changes(changes))


def shape(
    case: Which,
    form: Annotated[
        str,
        typer.Option("--form", metavar="FORM", help="profile, bevel, dome, cup, diameter, length or cap (of steel)."),
    ] = "profile",
    goals: Annotated[
        str,
        typer.Option("--for", metavar="GOAL[,GOAL]", help="output, aperture, pull, inductance, magnet."),
    ] = "output",
    pole: Annotated[
        str | None,
        typer.Option("--pole", metavar="N[,N]", show_default=False, help="Poles that change; all if made alike."),
    ] = None,
    points: Annotated[int, typer.Option("--points", metavar="K", help="Control points of a profile.")] = 6,
    front: Annotated[int, typer.Option("--front", metavar="N", help="Points of a front.")] = 5,
    least_radius: Annotated[
        str, typer.Option("--least-radius", metavar="LENGTH", help="Smallest radius of curvature.")
    ] = "0.5 mm",
    step: Annotated[
        str, typer.Option("--step", metavar="LENGTH", help="Of the lathe, in radius and depth.")
    ] = "0.05 mm",
    deepest: Annotated[
        str, typer.Option("--deepest", metavar="LENGTH", help="Deepest cut below the highest point.")
    ] = "2 mm",
    least_volume: Annotated[
        str | None,
        typer.Option("--least-volume", metavar="VOLUME", show_default=False, help="Of a pole, such as 290mm^3."),
    ] = None,
    most_volume: Annotated[
        str | None, typer.Option("--most-volume", metavar="VOLUME", show_default=False, help="Of a pole.")
    ] = None,
    cap: Annotated[
        str, typer.Option("--cap", metavar="MATERIAL", help="Of a cap where there is none.")
    ] = "steel-1008",
    out: Out = None,
    quality: Quality = "normal",
    changes: Changes = None,
    json: Json = False,
    verbose: Verbose = 0,
) -> None:
    """Find a better pole tip; table, DXF and drawing to turn it."""
    from .studies.shape.command import ShapeOptions, run_shape

    options = ShapeOptions(form=form, goals=goals, pole=pole, points=points, front=front, least_radius=least_radius,
                           step=step, deepest=deepest, least_volume=least_volume, most_volume=most_volume, cap=cap,
                           out=out, quality=quality, json=json)
    run_shape(case, options, read_changes(changes))


def tolerance(
    case: Which,
    limit: Annotated[
        list[str] | None,
        typer.Option(
            "--limit",
            metavar="FIGURE<VALUE",
            show_default=False,
            help="--limit 'balance<1 dB' --limit 'resistance=6.2kohm±5%': how many pickups keep it.",
        ),
    ] = None,
    count: Annotated[int, typer.Option("--count", metavar="N", help="Pickups of the sample.")] = 8192,
    check: Annotated[
        int, typer.Option("--check", metavar="N", help="Pickups computed in full, 4 or more; they check the rest.")
    ] = 16,
    seed: Annotated[int, typer.Option("--seed", metavar="N", help="For another sample.")] = 0,
    out: Out = None,
    quality: Quality = "normal",
    changes: Changes = None,
    workers: Workers = None,
    cluster: Cluster = None,
    resume: Resume = False,
    retry: Retry = False,
    json: Json = False,
    verbose: Verbose = 0,
) -> None:
    """Tell how pickups made alike differ, and why."""
    from .studies.tolerance.command import Options, run_tolerance

    options = Options(limits=limit or (), count=count, check=check, seed=seed, out=out, quality=quality,
                      workers=workers, cluster=cluster, resume=resume, retry=retry, json=json)
    run_tolerance(case, options, read_changes(changes))


def balance(
    case: Which,
    by: Annotated[
        str, typer.Option("--by", metavar="tilt|poles|both", help="The whole pickup, each pole's height, or both.")
    ] = "poles",
    measure: Annotated[
        str,
        typer.Option("--measure", metavar="sensitivity|output", help="output: rms at the equal pluck of signal."),
    ] = "sensitivity",
    profile: Annotated[
        str,
        typer.Option("--profile", metavar="DB,DB,...", help="Wanted dB of each string, or FROM:TO, or flat."),
    ] = "flat",
    travel: Annotated[
        str | None,
        typer.Option("--travel", metavar="LENGTH", show_default=False, help="Of a pole either way; 1.5mm."),
    ] = None,
    side_travel: Annotated[
        str | None,
        typer.Option("--side-travel", metavar="LENGTH", show_default=False, help="Of a side either way; 2mm."),
    ] = None,
    gap: Annotated[
        str | None,
        typer.Option("--gap", metavar="LENGTH", show_default=False, help="Smallest gap; 1.5mm if left out."),
    ] = None,
    pull: Annotated[
        float | None,
        typer.Option("--pull", metavar="CENTS", show_default=False, help="Most the magnets may bend a pitch."),
    ] = None,
    keep_level: Annotated[bool, typer.Option("--keep-level", help="Keep the strings' mean level too.")] = False,
    row: Annotated[
        str | None,
        typer.Option("--row", metavar="COIL", show_default=False, help="Whose poles move; those of the first row."),
    ] = None,
    out: Out = None,
    quality: Quality = "normal",
    changes: Changes = None,
    json: Json = False,
    verbose: Verbose = 0,
) -> None:
    """Even out the strings by tilt or by pole heights."""
    from .studies.balance.command import run_balance

    run_balance(case, by=by, measure=measure, profile=profile, travel=travel, side_travel=side_travel, gap=gap,
                pull=pull, keep_level=keep_level, row=row, out=out, quality=quality, changes=read_changes(changes),
                json=json)


COMMANDS: tuple[Callable[..., None], ...] = (compare, balance, shape, tolerance)
