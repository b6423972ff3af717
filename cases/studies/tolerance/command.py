"""`stringflux tolerance`: how pickups made from one case differ, by whose fault, and how many keep stated limits."""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from typing import Annotated

import typer

from stringflux.geometry.errors import CaseError

from ...files.load import load_case, read_content
from ...output.document import case_source
from ...solved.choice import choose
from ...terminal.options import StudyOptions, said_in
from ..designs.run import run_in_folder, say_effort

LEAST_CHECK, MOST_CHECK = 4, 4096
LEAST_COUNT, MOST_COUNT = 256, 2**17


@dataclass(frozen=True, kw_only=True)
class Options(StudyOptions):
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


@said_in(Options)
def tolerance(options: Options) -> None:
    """Everything that can be refused is refused before the computation starts."""
    begin = time.perf_counter()
    _refuse(options)
    which, changes = options.which, options.changes
    case = load_case(which, changes)
    choose(case)

    from ..designs.outputs import without_value
    from .limits import read_limit
    from .study import plan_of, quantity_names, study_of, wanted

    known, absent = quantity_names(case), without_value(case)
    limits = [read_limit(text, known, absent) for text in options.limit or ()]
    plan = plan_of(case, read_content(which, changes), quality=options.quality, check=options.check,
                   seed=options.seed)
    source = case_source(which, changes)
    asked = {"check": options.check, "seed": options.seed, "quality": options.quality}
    about = {"case": source.name, "text": source.text, "changes": source.changes, **asked}

    shared = say_effort(case, plan.tasks, wanted(case), options)
    folder, outcomes = run_in_folder(plan.tasks, options, kind="tolerance", name=source.name, about=about,
                                     shared=shared)
    study = study_of(plan, outcomes, count=options.count, seed=options.seed, limits=limits)

    from . import output

    text = output.tolerance_document(study, {**asked, "count": options.count}, case, source)
    if options.json:
        sys.stdout.write(text)
    else:
        output.print_study(study, case.title)
    sys.stdout.flush()  # a reader that is gone shows now, before anything is written
    output.write_study(folder, plan, outcomes, study, text)
    print(f"Results: {folder} ({len(outcomes)} designs, {time.perf_counter() - begin:.1f} s)",
          file=sys.stderr if options.json else sys.stdout)


def _refuse(options: Options) -> None:
    for name, value, least, most in (("check", options.check, LEAST_CHECK, MOST_CHECK),
                                     ("count", options.count, LEAST_COUNT, MOST_COUNT),
                                     ("seed", options.seed, 0, 2**31)):
        if not least <= value <= most:
            raise CaseError(f"--{name}: received {value}; write a whole number from {least} to {most}")
