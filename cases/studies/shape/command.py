"""`stringflux shape`: a better tip, what it gives, and the files to turn it from."""

from __future__ import annotations

import re
import sys
from contextlib import ExitStack
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import parse, shown, within

from ...ending import patient
from ...files.load import find_case, read_content
from ...output.document import case_source
from ...output.folder import replaced_folder
from ...terminal.options import OutOptions, as_options, said_in
from ...terminal.progress import shown_progress
from ...terminal.tables import console
from ...terminal.words import print_oddities

if TYPE_CHECKING:
    from ...solved.numerics import Numerics
    from .numerics import SearchNumerics


@dataclass(frozen=True, kw_only=True)
class ShapeOptions(OutOptions):
    """What the command line says, as it was typed; None where it says nothing."""

    form: Annotated[
        str | None,
        typer.Option("--form", metavar="FORM", show_default=False,
                     help="profile, bevel, dome, cup, diameter, length or cap (of steel); edge of a body."),
    ] = None
    goals: Annotated[
        str,
        typer.Option("--for", metavar="GOAL[,GOAL]",
                     help="output, aperture, pull, inductance, magnet; of a body unevenness too."),
    ] = "output"
    body: Annotated[
        str | None,
        typer.Option("--body", metavar="NAME", show_default=False, help="The body that is shaped, not poles."),
    ] = None
    vary: Annotated[
        list[str] | None,
        typer.Option("--vary", metavar="KEY=FROM:TO", show_default=False,
                     help="A length of that body, such as tip_along=0.5mm:3mm; again for more."),
    ] = None
    pole: Annotated[
        str | None,
        typer.Option("--pole", metavar="N[,N]", show_default=False, help="Poles that change; all if made alike."),
    ] = None
    points: Annotated[int, typer.Option("--points", metavar="K", help="Control points of a profile.")] = 6
    front: Annotated[int, typer.Option("--front", metavar="N", help="Points of a front.")] = 5
    least_radius: Annotated[
        str, typer.Option("--least-radius", metavar="LENGTH", help="Smallest radius of curvature.")
    ] = "0.5 mm"
    step: Annotated[
        str, typer.Option("--step", metavar="LENGTH", help="Of the lathe, in radius and depth.")
    ] = "0.05 mm"
    deepest: Annotated[
        str, typer.Option("--deepest", metavar="LENGTH", help="Deepest cut below the highest point.")
    ] = "2 mm"
    least_volume: Annotated[
        str | None,
        typer.Option("--least-volume", metavar="VOLUME", show_default=False, help="Of a pole, such as 290mm^3."),
    ] = None
    most_volume: Annotated[
        str | None, typer.Option("--most-volume", metavar="VOLUME", show_default=False, help="Of a pole.")
    ] = None
    cap: Annotated[
        str, typer.Option("--cap", metavar="MATERIAL", help="Of a cap where there is none.")
    ] = "steel-1008"


@said_in(ShapeOptions)
def shape(options: ShapeOptions) -> None:
    """Read the options, then the case; only then solve."""
    run(options)


def run(options: ShapeOptions, numerics: Numerics | None = None, search: SearchNumerics | None = None) -> None:
    """The command, with other numerical settings than the program's where they are given."""
    which, changes = options.which, options.changes
    from ...solved.numerics import SHIPPED
    from .goals import read_goals
    from .limits import Making
    from .numerics import SHIPPED as SEARCH
    from .output import KIND, keep_stopped, print_study, shape_document, stopped_document, write_study
    from .result import ShapeRequest
    from .so_far import ShapeStopped
    from .study import case_to_shape, shape_case
    from .varied import read_varied

    case = case_to_shape(which, changes, options.body or "")
    path, source = find_case(which), case_source(which, changes)
    making = Making(
        least_radius=_length("--least-radius", options.least_radius, 0.0, 20e-3),
        step=_length("--step", options.step, 1e-6, 0.5e-3),
        deepest=_length("--deepest", options.deepest, 0.05e-3, 20e-3),
        least_volume=_volume("--least-volume", options.least_volume, 0.0),
        most_volume=_volume("--most-volume", options.most_volume, float("inf")))
    if making.least_volume >= making.most_volume:
        raise CaseError(f"--least-volume: received {shown(options.least_volume)}, which is not below --most-volume, "
                        f"{shown(options.most_volume)}")
    _of_what(options)
    form = options.form or ("profile" if options.body is None else "lengths" if options.vary else "edge")
    with as_options():
        asked = ShapeRequest(
            form=form, body=options.body or "", varied=read_varied(options.vary or ()),
            goals=read_goals(options.goals), poles=_poles(options.pole), points=options.points, front=options.front,
            making=making, cap=options.cap)
    data, stopped = read_content(which, changes), None
    with ExitStack() as stack:
        stack.enter_context(patient())
        folder = None if options.out is None else stack.enter_context(replaced_folder(options.out, KIND))
        try:
            with shown_progress(bar_only=options.json) as progress:
                study = shape_case(case, path.read_text(encoding="utf-8-sig"), data, changes, asked, progress,
                                   quality=options.quality, numerics=numerics or SHIPPED,
                                   search_numerics=search or SEARCH)
        except ShapeStopped as best:
            stopped = best
            keep_stopped(folder, best, stopped_document(best, asked, case, source), sys.stderr)
            if folder is None:
                raise
        else:
            text = shape_document(study, case, source)
            if options.json:
                sys.stdout.write(text)
            else:
                print_study(study, case, console())
                print_oddities(case, console())
            sys.stdout.flush()
            if folder is not None:
                write_study(folder, study, text)
    if stopped is not None:
        print(f"It is kept in {options.out}; shape its case.toml to go on.", file=sys.stderr)
        raise stopped
    words = sys.stderr if options.json else sys.stdout
    if options.out is not None:
        print(f"Results: {options.out}", file=words)
    elif not options.json:
        what = "a figure" if options.body else "the table, DXF, drawing and figures"
        print(f"With --out DIR the new case, {what} are written there.")


def _of_what(options: ShapeOptions) -> None:
    """Refuse options of poles together with those of a body."""
    if options.body is None and options.vary:
        raise CaseError("--vary: it is of a body; write which one by --body, or a --form of the poles")
    if options.body is not None and options.pole is not None:
        raise CaseError("--pole: received together with --body; shape poles and bodies in two runs")


def _length(option: str, text: str, low: float, high: float) -> float:
    try:
        value = parse(text, "length")
    except CaseError as error:
        raise CaseError(f"{option}: {error}") from None
    if not within(value, low, high):
        raise CaseError(f"{option}: received {shown(text)}; write {1e3 * low:g} mm to {1e3 * high:g} mm")
    return value


def _volume(option: str, text: str | None, without: float) -> float:
    if text is None:
        return without
    try:
        value = parse(text, "volume")
    except CaseError as error:
        raise CaseError(f"{option}: {error}") from None
    if value <= 0:
        raise CaseError(f"{option}: received {shown(text)}; write a volume above 0")
    return value


def _poles(text: str | None) -> tuple[int, ...]:
    if text is None:
        return ()
    if not re.fullmatch(r"\s*[0-9]{1,2}(\s*,\s*[0-9]{1,2})*\s*", text):
        raise CaseError(f'--pole: received {shown(text)}; write numbers of poles such as "3" or "1,2,3"')
    return tuple(int(n) for n in text.split(","))
