"""`stringflux force`: how strongly the magnets pull a keeper, a magnet, a cover of steel or a pole."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from stringflux.geometry.case.model import Case
from stringflux.geometry.units import mm

from ..files.load import load_case
from ..output.document import case_source, document, plain
from ..terminal.options import Json, Quality, ReadOptions, said_in
from ..terminal.progress import shown_progress
from ..terminal.quantities import read_quantity
from ..terminal.tables import console, headed
from ..terminal.words import print_oddities

if TYPE_CHECKING:
    from ..jobs.force import BodyForce

UNITS = {**dict.fromkeys(("force", "error", "other", "size"), "N"), "lifted": "m"}
CAUTION = ("Caution: so strong a pull snaps shut on fingers and chips magnets. Bring the parts together slowly, with "
           "wood or card between them, and keep steel tools away.")


@dataclass(frozen=True, kw_only=True)
class ForceOptions(ReadOptions):
    """The options of `force`."""

    body: Annotated[
        list[str] | None,
        typer.Option("--body", metavar="NAME", show_default=False,
                     help="The body, or 'pole 3', that is pulled; once more for several that move as one."),
    ] = None
    lift: Annotated[
        str | None,
        typer.Option("--lift", metavar="GAP", show_default=False,
                     help="Gap to what it touches, by which it is lifted, such as 0.1mm."),
    ] = None
    quality: Quality = "normal"
    json: Json = False


@said_in(ForceOptions)
def force(options: ForceOptions) -> None:
    """Newtons along, across and up, two ways, with their error."""
    lift = 0.0 if options.lift is None else read_quantity("--lift", options.lift, "length")[0]
    case = load_case(options.which, options.changes, without_strings=True)
    from ..solving import solve

    with shown_progress(bar_only=options.json) as progress:
        found = solve(case, quality=options.quality).force(*options.body or (), lift=lift, progress=progress)
        progress("", 1.0)
    if options.json:
        source = case_source(options.which, options.changes)
        sys.stdout.write(document("force", case, source, {**plain(found), "size": found.size}, UNITS))
    else:
        _print(case, found)
        print_oddities(case, console())


def _print(case: Case, found: BodyForce) -> None:
    to = console()
    to.print(case.title or "Untitled case", style="bold", markup=False)
    ways = {"charges": "magnetic charges", "stress": "stress in air"}
    second = next(name for key, name in ways.items() if key != found.by)
    places = 2 if found.error >= 0.005 else 4
    rows = ((ways[found.by], found.force), (second, found.other))
    to.print(headed(f"Force on {', '.join(found.bodies)}", {
        "By": [name for name, _ in rows],
        **{f"{way}\nN": [f"{f[i]:+.{places}f}" for _, f in rows]
           for i, way in enumerate(("along", "across", "up"))},
        "size\nN": [f"{sum(f**2) ** 0.5:.{places}f}" for _, f in rows],
    }, left=1))
    to.print(f"The first holds, within {found.error:.{places}f} N: so much may the mesh do, from how the field jumps "
             "between elements. Strings are not there.", soft_wrap=True)
    if found.off:
        lifted = float(abs(found.lifted).max())
        to.print(f"Lifted {mm(lifted)} off {', '.join(found.off)}, which it touches in the case.", markup=False,
                 soft_wrap=True)
    if found.is_strong:
        to.print(CAUTION, soft_wrap=True)
