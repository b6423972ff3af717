"""`stringflux design`: designs that meet wishes, with their trade-off, or which wish is in the way."""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from typing import Annotated

import typer

from stringflux.geometry.errors import SolveError

from ...output.document import case_source
from ...terminal.options import StudyOptions, Units, Yes, said_in
from ..compare.command import Vary, agree, read_varied
from ..designs.run import refuse_where, run_in_folder, say_effort


@dataclass(frozen=True, kw_only=True)
class DesignOptions(StudyOptions):
    """What the command line says; None where it says nothing."""

    want: Annotated[
        list[str] | None,
        typer.Option("--want", metavar="WISH", show_default=False,
                     help="'peak=4.2kHz', 'output>=+2dB over CASE', 'resistance<8kohm', 'field>900G'."),
    ] = None
    vary: Vary = None
    rank: Annotated[
        list[str] | None,
        typer.Option("--rank", metavar="FIGURE,FIGURE", show_default=False, help="Figures of the trade-off."),
    ] = None
    units: Units = "both"
    yes: Yes = False


@said_in(DesignOptions)
def design(options: DesignOptions) -> None:
    """Everything that can be refused is refused before the computation starts."""
    begin = time.perf_counter()
    refuse_where(options)
    vary = read_varied(options.vary or ())
    from ...kept.store import default_store
    from .plan import DesignRequest, planned

    asked = DesignRequest(want=tuple(options.want or ()), vary=vary, rank=tuple(options.rank or ()))
    plan = planned(options.which, asked, changes=options.changes, quality=options.quality, keep=default_store(),
                   agreed=lambda count: agree(count, yes=options.yes))
    source, made = case_source(options.which, options.changes), plan.comparison
    shared = say_effort(made.case, made.tasks, made.tasks.want, options)
    folder, outcomes = run_in_folder(made.tasks, options, kind="design", name=made.name, about=made.about,
                                     shared=shared)

    from . import output
    from .result import FoundDesigns

    found = FoundDesigns(asked=plan, outcomes=tuple(outcomes))
    text = output.found_document(found, source, folder)
    if options.json:
        sys.stdout.write(text)
    else:
        output.print_found(found, options.which, options.units)
    sys.stdout.flush()  # a reader that is gone shows now, before anything is written
    output.write_found(folder, found, text)
    print(f"Results: {folder} ({len(outcomes)} designs, {time.perf_counter() - begin:.1f} s)",
          file=sys.stderr if options.json else sys.stdout)
    if all(outcome.failure for outcome in outcomes):
        raise SolveError(f"none of the {len(outcomes)} designs could be computed; the first: {outcomes[0].failure}")
