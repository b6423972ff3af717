"""`stringflux flux`: the static flux in a body's section, or through a disc or a rectangle."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

import typer

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import mm, parse, shown

from ..files.load import load_case
from ..output.document import case_source, document, plain
from ..terminal.options import Json, Quality, ReadOptions, said_in
from ..terminal.progress import shown_progress
from ..terminal.quantities import read_quantity
from ..terminal.tables import console, headed
from ..terminal.words import print_oddities

if TYPE_CHECKING:
    from ..jobs.flux import BodyFlux, SectionFlux
    from ..pickup import Pickup

Progress = Callable[[str, float], None]
UNITS: dict[str, Any] = {**dict.fromkeys(("flux", "error"), "Wb"), "mean": "T", "area": "m^2", "at": "m",
         "section": dict.fromkeys(("centre", "radius", "size"), "m")}


@dataclass(frozen=True, kw_only=True)
class FluxOptions(ReadOptions):
    """The options of `flux`."""

    body: Annotated[
        list[str] | None,
        typer.Option("--body", metavar="NAME", show_default=False,
                     help="The body, or 'pole 3', in whose section it is; once more for several together."),
    ] = None
    at: Annotated[
        str | None,
        typer.Option("--at", metavar="PLACE", show_default=False,
                     help="Place of the section on the axis of --across, such as -3mm; half way if left out."),
    ] = None
    centre: Annotated[
        str | None,
        typer.Option("--centre", metavar="X,Y,Z", show_default=False,
                     help="Middle of a disc or a rectangle, in place of a body, such as 0mm,0mm,5mm."),
    ] = None
    radius: Annotated[
        str | None, typer.Option("--radius", metavar="LENGTH", show_default=False, help="Radius of the disc.")
    ] = None
    size: Annotated[
        str | None,
        typer.Option("--size", metavar="A,B", show_default=False,
                     help="Sides of the rectangle along the two other axes, in the order x, y, z."),
    ] = None
    across: Annotated[
        str,
        typer.Option("--across", metavar="x|y|z",
                     help="Axis at right angles to the section; flux along it is above 0."),
    ] = "z"
    quality: Quality = "normal"
    json: Json = False


@said_in(FluxOptions)
def flux(options: FluxOptions) -> None:
    """Webers and mean field in a section, with their error."""
    if (options.body is None) == (options.centre is None):
        raise CaseError("--body: write the name of a body for the flux in its section, or --centre with --radius or "
                        "--size for that through a disc or a rectangle; one of the two")
    if options.across not in ("x", "y", "z"):
        raise CaseError(f"--across: received {shown(options.across)}; write x, y or z")
    if options.body and (options.radius or options.size):
        raise CaseError("--body: received together with --radius or --size, which are of --centre; leave them out")
    if options.centre and options.at:
        raise CaseError("--at: received together with --centre, which says the place; leave it out")
    case = load_case(options.which, options.changes, without_strings=True)
    from ..solving import solve

    with shown_progress(bar_only=options.json) as progress:
        pickup = solve(case, quality=options.quality)
        found = _in_body(pickup, options, progress) if options.body else _through(pickup, options, progress)
        progress("", 1.0)
    if options.json:
        result = {**plain(found), "mean": found.mean, "area": found.area}
        sys.stdout.write(document("flux", case, case_source(options.which, options.changes), result, UNITS))
        return
    to = console()
    to.print(case.title or "Untitled case", style="bold", markup=False)
    to.print(headed(_words(found, options.across), {
        "flux\nuWb": [f"{1e6 * found.flux:+.4g}"], "error\nuWb": [f"{1e6 * found.error:.2g}"],
        "area\nmm²": [f"{1e6 * found.area:.4g}"], "mean B\nmT": [f"{1e3 * found.mean:+.4g}"]}))
    to.print("The error is what the mesh may do, from how the field jumps between elements. Strings are not there.",
             soft_wrap=True)
    print_oddities(case, to)


def _in_body(pickup: Pickup, options: FluxOptions, progress: Progress) -> BodyFlux:
    at = None if options.at is None else _lengths("--at", options.at, 1)[0]
    return pickup.flux_in(*options.body or (), across=options.across, at=at, progress=progress)


def _through(pickup: Pickup, options: FluxOptions, progress: Progress) -> SectionFlux:
    if (options.radius is None) == (options.size is None):
        raise CaseError("--radius: write it for a disc, or --size for a rectangle; one of them")
    radius = None if options.radius is None else read_quantity("--radius", options.radius, "length")[0]
    size = None if options.size is None else _lengths("--size", options.size, 2)
    centre = _lengths("--centre", options.centre or "", 3)
    return pickup.flux_through(centre, options.across, radius=radius, size=size, progress=progress)


def _words(found: BodyFlux | SectionFlux, across: str) -> str:
    from ..jobs.flux import BodyFlux

    if isinstance(found, BodyFlux):
        return f"Flux in {', '.join(found.bodies)} across {across} at {mm(found.at)}"
    what = "disc" if found.section.radius is not None else "rectangle"
    return f"Flux through a {what} across {across}"


def _lengths(option: str, text: str, count: int) -> tuple[float, ...]:
    """So many lengths between commas, in m; each may be below 0."""
    words = [w.strip() for w in text.split(",")]
    try:
        if len(words) != count:
            raise CaseError("")
        return tuple(0.0 if w == "0" else parse(w, "length") for w in words)
    except CaseError:
        example = ",".join(("1mm", "-2mm", "5mm")[:count])
        raise CaseError(f"{option}: received {shown(text)}; write {'a length' if count == 1 else f'{count} lengths'} "
                        f"with units, such as {example}") from None
