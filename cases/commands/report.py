"""`stringflux report`: everything about a case in one HTML file to hand on."""

from __future__ import annotations

import os
import time
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from stringflux.geometry.errors import OutputError
from stringflux.geometry.units import shown

from ..files.load import find_case, load_case
from ..files.whole import write_new
from ..jobs.second_process import beside
from ..terminal.options import StringOptions, said_in
from ..terminal.progress import shown_progress

ENDINGS = (".html", ".htm")


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
    path = writable(options.out if options.out is not None else f"{find_case(which).stem}-report.html")
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
    for reason in without:
        print(f"Note: left out: {reason}")
    print(f"Report: {path} ({len(page) / 1e6:.1f} MB, {time.perf_counter() - begin:.1f} s). Open it in a browser.")


def writable(out: str) -> Path:
    """The file to write, if it may be written; only an earlier report of ours is replaced."""
    from stringflux.postprocess.report.page import GENERATOR

    path, said = Path(out), f"--out: received {shown(out)}"
    if path.suffix.lower() not in ENDINGS:
        raise OutputError(f"{said}; name a file that ends in .html (a browser prints it as PDF)")
    if "\0" in out:
        raise OutputError(f"{said}, which is no possible name; name a file")
    try:
        if path.is_dir():
            raise OutputError(f"{said}, which is a folder; name a file in it")
        if not path.parent.is_dir():
            raise OutputError(f"{said}, but there is no folder {shown(str(path.parent))}; make it, or name another "
                              "file")
        if not os.access(path.parent, os.W_OK | os.X_OK):
            raise OutputError(f"{said}, where nothing can be written (no permission); name another file")
        if path.exists():
            with path.open("rb") as file:
                if f'content="{GENERATOR}"'.encode() not in file.read(1000):
                    raise OutputError(f"{said}, which is there and is no report of stringflux; name another file")
    except OSError as error:
        raise OutputError(f"{said}, which cannot be written ({error.strerror}); name another file") from None
    return path
