"""`stringflux compare`: designs that differ in some fields of the case, ranked, with their trade-off in a figure."""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

import typer

from stringflux.geometry.errors import CaseError, SolveError
from stringflux.geometry.units import shown

from ...output.document import case_source
from ...terminal.options import StudyOptions, Units, Yes, said_in
from ..designs.run import refuse_where, run_in_folder, say_effort
from .comparison import CompareRequest, Comparison

MANY = 5000  # designs from which on we ask
MOST = 1_000_000  # designs of one study: weeks of a large machine


Vary = Annotated[
    list[str] | None,
    typer.Option(
        "--vary",
        metavar="FIELD=VALUES",
        show_default=False,
        help="--vary pole.part.material=alnico-3,alnico-5 --vary strings.gap=1.5mm:3.5mm:9",
    ),
]


@dataclass(frozen=True, kw_only=True)
class CompareOptions(StudyOptions):
    """What the command line says; None where it says nothing."""

    vary: Vary = None
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
    units: Units = "both"
    yes: Yes = False


@said_in(CompareOptions)
def compare(options: CompareOptions) -> None:
    """Everything that can be refused is refused before the computation starts."""
    begin = time.perf_counter()
    refuse_where(options)
    asked, source = comparison(options), case_source(options.which, options.changes)
    agree(len(asked.plan), yes=options.yes)

    from .study import possible

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
        output.print_ranking(found, options.units)
    sys.stdout.flush()  # a reader that is gone shows now, before anything is written
    output.write_comparison(folder, found)
    print(f"Results: {folder} ({len(outcomes)} designs, {time.perf_counter() - begin:.1f} s)", file=words)
    if all(outcome.failure for outcome in outcomes):
        raise SolveError(f"none of the {len(outcomes)} designs could be computed; the first: {outcomes[0].failure}")


def comparison(options: CompareOptions) -> Comparison:
    """What is to be computed, from the options and the study file.

    Raises
    ------
    CaseError
        One sentence.
    """
    if options.paired and options.sample is not None:
        raise CaseError("--paired: received together with --sample; keep one of them")
    vary = read_varied(options.vary or ())
    from .study import comparison_of
    from .study_file import StudyFile, read_study_file

    file = StudyFile(vary={}) if options.study is None else read_study_file(options.study)
    sample = options.sample if options.sample is not None else file.sample if not options.paired else None
    seed = options.seed if options.seed is not None else file.seed
    if seed is not None and sample is None:
        raise CaseError("--seed: received without --sample; only a sample has something to draw")
    asked = CompareRequest(
        # a field that the command line varies too has its values from there
        vary={**{field: given for field, given in file.vary.items() if field not in vary}, **vary},
        combine="sample" if sample is not None else "paired" if options.paired else file.combine or "grid",
        sample=sample or 0, seed=1 if seed is None else seed, rank=tuple(options.rank or file.rank),
        want=(*file.want, *(options.want or ())))
    return comparison_of(options.which, asked, changes=options.changes, quality=options.quality)


def read_varied(given: Sequence[str]) -> dict[str, str]:
    """All that is varied, each field once.

    Raises
    ------
    CaseError
        One sentence.
    """
    vary = dict(map(read_vary, given))
    if len(vary) < len(given):
        raise CaseError("--vary: received one field twice; write its values in one list")
    return vary


def read_vary(text: str) -> tuple[str, str]:
    """``strings.gap=1.5mm:3.5mm:9`` as a field and its values.

    Raises
    ------
    CaseError
        One sentence.
    """
    path, equals, given = (part.strip() for part in text.partition("="))
    if not path or not equals or not given:
        raise CaseError(f"--vary: received {shown(text)}; write FIELD=VALUE,VALUE or FIELD=FROM:TO:N, for example "
                        "strings.gap=1.5mm:3.5mm:9")
    return path, given


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
