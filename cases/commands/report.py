"""`stringflux report`: everything about a case in one HTML file to hand on."""

from __future__ import annotations

import time
from contextlib import nullcontext
from dataclasses import dataclass
from typing import Annotated

import typer

from ..files.load import find_case, load_case
from ..files.pages import writable
from ..files.whole import write_new
from ..jobs.second_process import beside
from ..terminal.options import StringOptions, said_in
from ..terminal.progress import shown_progress
from ..terminal.tables import console
from ..terminal.words import print_oddities


@dataclass(frozen=True, kw_only=True)
class ReportOptions(StringOptions):
    """The options of `report`."""

    out: Annotated[
        str | None,
        typer.Option("--out", metavar="FILE", show_default=False, help="HTML file; CASE-report.html if left out."),
    ] = None


@said_in(ReportOptions)
def report(options: ReportOptions) -> None:
    """Everything that can be refused is refused before the computation starts."""
    begin = time.perf_counter()
    which, changes, quality = options.which, options.changes, options.quality
    case = load_case(which, changes)
    from stringflux.postprocess.report.page import GENERATOR

    path = writable(f"{find_case(which).stem}-report.html" if options.out is None else options.out, GENERATOR,
                    "report")
    from ..papers.report import CaseText, motion, motion_of_case, report_page
    from ..solving import solve

    source = find_case(which)
    text = CaseText(name=source.stem, text=source.read_text(encoding="utf-8-sig"), changes=changes)
    pickup = solve(case, quality=quality)
    # a build's 3-D solution is in this process, which is worth more than a second processor
    apart = beside(motion_of_case, case, quality) if case.is_plain_row else nullcontext(lambda: motion(pickup))
    with apart as moving, shown_progress() as progress:
        page, without = report_page(pickup, text, moving=moving, progress=progress)
    write_new(str(path), page, argument="--out", force=True)
    print_oddities(case, console())
    for reason in without:
        print(f"Note: left out: {reason}")
    print(f"Report: {path} ({len(page) / 1e6:.1f} MB, {time.perf_counter() - begin:.1f} s). Open it in a browser.")
