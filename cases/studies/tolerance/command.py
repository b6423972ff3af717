"""`stringflux tolerance`: how pickups made from one case differ, by whose fault, and how many keep stated limits."""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from typing import Annotated

import typer

from ...output.document import case_source
from ...terminal.options import StudyOptions, Units, as_options, said_in
from ...terminal.tables import console
from ...terminal.words import print_oddities
from ..designs.run import refuse_where, run_in_folder, say_effort


@dataclass(frozen=True, kw_only=True)
class ToleranceOptions(StudyOptions):
    """What the command line says; None where it says nothing."""

    limit: Annotated[
        list[str] | None,
        typer.Option(
            "--limit",
            metavar="FIGURE<VALUE",
            show_default=False,
            help="--limit 'balance<1 dB' --limit 'resistance=6.2kohm±5%': how many pickups keep it.",
        ),
    ] = None
    count: Annotated[int, typer.Option("--count", metavar="N", help="Pickups of the sample.")] = 8192
    check: Annotated[
        int, typer.Option("--check", metavar="N", help="Pickups computed in full, 4 or more; they check the rest.")
    ] = 16
    seed: Annotated[int, typer.Option("--seed", metavar="N", help="For another sample.")] = 0
    units: Units = "both"


@said_in(ToleranceOptions)
def tolerance(options: ToleranceOptions) -> None:
    """Everything that can be refused is refused before the computation starts."""
    begin = time.perf_counter()
    refuse_where(options)
    from .study import ToleranceRequest, planned, study_of, wanted

    with as_options():
        asked = ToleranceRequest(limits=tuple(options.limit or ()), count=options.count, check=options.check,
                                 seed=options.seed)
    source = case_source(options.which, options.changes)
    plan, limits, about = planned(options.which, asked, changes=options.changes, quality=options.quality)
    case = plan.case

    shared = say_effort(case, plan.tasks, wanted(case), options)
    folder, outcomes = run_in_folder(plan.tasks, options, kind="tolerance", name=source.name, about=about,
                                     shared=shared)
    study = study_of(plan, outcomes, count=asked.count, seed=asked.seed, limits=limits)

    from . import output

    told = {name: about[name] for name in ("check", "seed", "quality")}
    text = output.tolerance_document(study, {**told, "count": asked.count}, case, source)
    if options.json:
        sys.stdout.write(text)
    else:
        output.print_study(study, case.title, options.units)
        print_oddities(case, console())
    sys.stdout.flush()  # a reader that is gone shows now, before anything is written
    output.write_study(folder, plan, outcomes, study, text)
    print(f"Results: {folder} ({len(outcomes)} designs, {time.perf_counter() - begin:.1f} s)",
          file=sys.stderr if options.json else sys.stdout)
