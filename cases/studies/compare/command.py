"""`stringflux compare`: designs that differ in some fields of the case, ranked, with their trade-off in a figure."""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Annotated

import typer

from stringflux.geometry.errors import CaseError, SolveError

from ...files.load import built_in_uses, find_case, load_case, read_content
from ...output.document import case_source
from ...solved.choice import choose
from ...terminal.options import StudyOptions, Yes, said_in
from ..designs.run import run_in_folder, say_effort
from .comparison import Comparison

if TYPE_CHECKING:
    from .plan import Tasks

MANY = 5000  # designs from which on we ask
MOST = 1_000_000  # designs of one study: weeks of a large machine
TRIED = 1000  # designs that are read before all of them count as impossible


@dataclass(frozen=True, kw_only=True)
class Options(StudyOptions):
    """What the command line says; None where it says nothing."""

    vary: Annotated[
        list[str] | None,
        typer.Option(
            "--vary",
            metavar="FIELD=VALUES",
            show_default=False,
            help="--vary pole.part.material=alnico-3,alnico-5 --vary strings.gap=1.5mm:3.5mm:9",
        ),
    ] = None
    study: Annotated[
        str | None, typer.Option("--study", metavar="FILE", show_default=False, help="A TOML file that says it all.")
    ] = None
    paired: Annotated[bool, typer.Option("--paired", help="First values together, second ones ...")] = False
    sample: Annotated[
        int | None,
        typer.Option("--sample", metavar="N", show_default=False, help="So many designs, evenly over all ranges."),
    ] = None
    seed: Annotated[
        int | None, typer.Option("--seed", metavar="N", show_default=False, help="For another sample.")
    ] = None
    rank: Annotated[
        list[str] | None,
        typer.Option("--rank", metavar="FIGURE,FIGURE", show_default=False, help="Best first: --rank output,pull"),
    ] = None
    want: Annotated[
        list[str] | None,
        typer.Option("--want", metavar="FIGURE,FIGURE", show_default=False, help="Figures to compute besides."),
    ] = None
    yes: Yes = False


@said_in(Options)
def compare(options: Options) -> None:
    """Everything that can be refused is refused before the computation starts."""
    begin = time.perf_counter()
    asked, source = comparison(options), case_source(options.which, options.changes)
    agree(len(asked.plan), yes=options.yes)
    possible(asked.tasks)
    words = sys.stderr if options.json else sys.stdout
    for note in (v.field.note for v in asked.plan.variations if v.field.note):
        print(f"Note: {note}", file=words)

    shared = say_effort(asked.case, asked.tasks, asked.tasks.want, options)
    folder, outcomes = run_in_folder(asked.tasks, options, kind="compare", name=asked.name, about=asked.about,
                                     shared=shared)

    from . import output
    from .result import ComparedDesigns

    found = ComparedDesigns(asked=asked, outcomes=tuple(outcomes))
    if options.json:
        sys.stdout.write(output.comparison_document(found, source, folder))
    else:
        output.print_ranking(found)
    sys.stdout.flush()  # a reader that is gone shows now, before anything is written
    output.write_comparison(folder, found)
    print(f"Results: {folder} ({len(outcomes)} designs, {time.perf_counter() - begin:.1f} s)", file=words)
    if all(outcome.failure for outcome in outcomes):
        raise SolveError(f"none of the {len(outcomes)} designs could be computed; the first: {outcomes[0].failure}")


def comparison(options: Options) -> Comparison:
    """What is to be computed, from the options and the study file.

    Raises
    ------
    CaseError
        One sentence.
    """
    if options.paired and options.sample is not None:
        raise CaseError("--paired: received together with --sample; keep one of them")
    which, changes, vary = options.which, options.changes, options.vary or ()
    case, path = load_case(which, changes), find_case(which)
    choose(case)
    document = read_content(which, changes)

    from .fields import find_field
    from .plan import Plan, Tasks
    from .ranking import read_ranks, wanted
    from .study_file import StudyFile, read_study_file
    from .variations import read_vary, variation

    file = StudyFile(vary={}) if options.study is None else read_study_file(options.study)
    varied = {v.field.path: v for v in (read_vary(text, document, case) for text in vary)}
    if len(varied) < len(vary):
        raise CaseError("--vary: received one field twice; write its values in one list")
    # a field that the command line varies too has its values from there
    of_file = [variation(find_field(field, document, case), given) for field, given in file.vary.items()
               if field not in varied]
    sample = options.sample if options.sample is not None else file.sample if not options.paired else None
    seed = options.seed if options.seed is not None else file.seed
    if seed is not None and sample is None:
        raise CaseError("--seed: received without --sample; only a sample has something to draw")
    combine = "sample" if sample is not None else "paired" if options.paired else file.combine or "grid"
    plan = Plan(variations=(*of_file, *varied.values()), combine=combine, samples=sample or 0,
                seed=1 if seed is None else seed)
    ranks = read_ranks(options.rank or file.rank, case)
    besides = [word for text in (*file.want, *(options.want or ())) for word in text.split(",")]
    tasks = Tasks(document=document, plan=plan, quality=options.quality, want=wanted(ranks, besides, case))
    about = {
        "case": path.stem, "text": path.read_text(encoding="utf-8-sig"), "changes": dict(changes),
        "vary": {**file.vary, **{text.partition("=")[0].strip(): text.partition("=")[2] for text in vary}},
        "combine": combine, "sample": sample, "seed": plan.seed if sample is not None else None,
        "quality": options.quality, "rank": [f"{rank.column}:{rank.better}" for rank in ranks], "want": tasks.want,
    }
    return Comparison(name=path.stem, case=case, plan=plan, ranks=ranks, tasks=tasks, about=about)


def agree(count: int, *, yes: bool) -> None:
    """Ask before very many designs are computed; without a terminal refuse them."""
    said = f"{count:,} designs".replace(",", " ")
    if count > MOST:
        raise CaseError(f"--vary: this makes {said}, and one study holds a million at the most; write fewer values, "
                        "or take a smaller sample by --sample")
    if yes or count < MANY:
        return
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise CaseError(f"--vary: this makes {said}; write fewer values, take a sample by --sample, or add --yes")
    import typer

    if not typer.confirm(f"This makes {said}. Compute them all?", err=True):
        raise typer.Abort


def possible(tasks: Tasks) -> None:
    """Refuse a study none of whose designs is a possible case; single ones become rows with their reason.

    Raises
    ------
    CaseError
        With the first design's fault.
    """
    from stringflux.geometry.reading.read import read_case

    uses, first = built_in_uses(), ""
    for task in islice(tasks, TRIED):
        try:
            read_case(task.document, materials=uses)
            return
        except CaseError as error:
            first = first or str(error)
    raise CaseError(f"none of the designs is possible; the first: {first}")
