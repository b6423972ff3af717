"""`stringflux tolerance`: how pickups made from one case differ, by whose fault, and how many keep stated limits."""

from __future__ import annotations

import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any

import typer

from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.changes import change_value

from ...files.load import find_case, load_case, read_toml
from ...output.document import case_source
from ...solved.choice import choose
from ...terminal.options import (
    Changes,
    Cluster,
    Json,
    Out,
    Quality,
    Resume,
    Retry,
    Verbose,
    Which,
    Workers,
    read_changes,
)
from ..designs.run import run_in_folder, say_effort

LEAST_CHECK, MOST_CHECK = 4, 4096
LEAST_COUNT, MOST_COUNT = 256, 2**17


@dataclass(frozen=True, kw_only=True)
class Options:
    """What the command line says."""

    limits: Sequence[str] = ()
    count: int = 8192
    check: int = 16
    seed: int = 0
    out: str | None = None
    quality: str = "normal"
    workers: int | None = None
    cluster: str | None = None
    resume: bool = False
    retry: bool = False
    json: bool = False


def tolerance(
    which: Which,
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
    given: Changes = None,
    workers: Workers = None,
    cluster: Cluster = None,
    resume: Resume = False,
    retry: Retry = False,
    json: Json = False,
    verbose: Verbose = 0,
) -> None:
    """What the options say as one record, and on with it."""
    options = Options(limits=limit or (), count=count, check=check, seed=seed, out=out, quality=quality,
                      workers=workers, cluster=cluster, resume=resume, retry=retry, json=json)
    run_tolerance(which, options, read_changes(given))


def run_tolerance(which: str, options: Options, changes: Mapping[str, Any]) -> None:
    """Everything that can be refused is refused before the computation starts."""
    begin = time.perf_counter()
    _refuse(options)
    case, path = load_case(which, changes), find_case(which)
    choose(case)
    document = read_toml(path)
    for dotted, value in changes.items():
        change_value(document, dotted, value)

    from ..designs.outputs import without_value
    from .limits import read_limit
    from .study import plan_of, quantity_names, study_of, wanted

    known, absent = quantity_names(case), without_value(case)
    limits = [read_limit(text, known, absent) for text in options.limits]
    plan = plan_of(case, document, quality=options.quality, check=options.check, seed=options.seed)
    source = case_source(which, changes)
    asked = {"check": options.check, "seed": options.seed, "quality": options.quality}
    about = {"case": source.name, "text": source.text, "changes": source.changes, **asked}

    shared = say_effort(case, plan.tasks, wanted(case), options)
    folder, outcomes = run_in_folder(plan.tasks, options, kind="tolerance", name=path.stem, about=about,
                                     shared=shared)
    study = study_of(plan, outcomes, count=options.count, seed=options.seed, limits=limits)

    from . import output

    text = output.tolerance_document(study, {**asked, "count": options.count}, case, source)
    if options.json:
        sys.stdout.write(text)
    else:
        output.print_study(study, case.title)
    sys.stdout.flush()  # a reader that is gone shows now, before anything is written
    output.write_study(folder, plan, outcomes, study, text, case.title)
    print(f"Results: {folder} ({len(outcomes)} designs, {time.perf_counter() - begin:.1f} s)",
          file=sys.stderr if options.json else sys.stdout)


def _refuse(options: Options) -> None:
    for name, value, least, most in (("check", options.check, LEAST_CHECK, MOST_CHECK),
                                     ("count", options.count, LEAST_COUNT, MOST_COUNT),
                                     ("seed", options.seed, 0, 2**31)):
        if not least <= value <= most:
            raise CaseError(f"--{name}: received {value}; write a whole number from {least} to {most}")
