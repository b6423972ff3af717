"""Sheets to take along: the winding sheet of a case, and a PDF of a page where a browser is there."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from stringflux.geometry.case.model import Case
from stringflux.geometry.case.phase import ends_in_coils, pairs

from ..solved.windings import coil_windings, connection_words

if TYPE_CHECKING:
    from stringflux.postprocess.coil.winding import Winding

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "microsoft-edge")
PATIENCE = 60.0
"""s for a browser to print a page."""


def winding_sheet(case: Case, name: str, windings: Sequence[Winding] | None = None, *,
                  coils: Sequence[int] | None = None) -> str:
    """The winding sheet as one HTML document, a printed page each coil.

    Parameters
    ----------
    name : str
        Of the case's file.
    windings : sequence of Winding, optional
        Of all coils; those at the case's temperature if left out.
    coils : sequence of int, optional
        Which of them, from 0; all if left out.
    """
    from stringflux.postprocess.sheets.winding import SheetCoil, pages

    made = coil_windings(case) if windings is None else windings
    names = case.coil_names() if case.second_coil or case.coil.name else ("",)
    ends_at, held, tracks = goes_to(case), ends_in_coils(case), case.racetracks()
    sheets = []
    for i in range(len(names)) if coils is None else coils:
        leads = case.coils()[i].leads
        sheets.append(SheetCoil(name=names[i], made=made[i], track=tracks[i], ends=held[i], ends_at=ends_at[i],
                                leads=("", "") if leads is None else (leads.start, leads.finish)))
    words = connection_words(case)
    notes = [f"Connected {words}.", *(pair.words for pair in pairs(case))] if words else []
    return pages(case.title or name, name, sheets, notes)


def goes_to(case: Case) -> tuple[tuple[str, str], ...]:
    """Where start and finish of every coil go: "ground", "hot", or to which coil.

    The first connected coil's `grounded_end` says which end of the pickup is hot; ends exchanged follow from
    `connection.reversed`, so that the strings' voltages are those that are computed.
    """
    names, how = case.coil_names(), case.connection
    if len(names) == 1:
        return ((("ground", "hot") if case.coil.grounded_end == "inner" else ("hot", "ground")),)
    at = [i for i, name in enumerate(names) if how.coils in ("series", "parallel", name)]
    turned = [name in how.reversed for name in names]
    outer = case.coils()[at[0]].grounded_end == "outer"
    flipped = outer != turned[at[0]]  # so that the first coil's end at ground is the one that the case says
    lower = ["finish" if t != flipped else "start" for t in turned]  # the end on the side of ground
    upper = ["start" if end == "finish" else "finish" for end in lower]
    out = [("open", "open")] * len(names)
    series = how.coils == "series"
    for k, i in enumerate(at):
        low = "ground" if not series or k == 0 else f"{names[at[k - 1]]}, its {upper[at[k - 1]]}"
        high = "hot" if not series or k == len(at) - 1 else f"{names[at[k + 1]]}, its {lower[at[k + 1]]}"
        out[i] = (low, high) if lower[i] == "start" else (high, low)
    return tuple(out)


def browser() -> str | None:
    """A browser on this machine that prints pages without a window, or None."""
    return next((found for name in BROWSERS if (found := shutil.which(name))), None)


def printed(page: Path, pdf: Path) -> str:
    """Print a page as PDF by the browser; "" if it is there, else why not, as a sentence."""
    program = browser()
    if program is None:
        return f"No PDF: no browser was found here ({', '.join(BROWSERS[:3])}); print the page from yours."
    with TemporaryDirectory() as home:
        words = [program, "--headless", "--disable-gpu", "--no-first-run", "--disable-background-networking",
                 "--disable-sync", f"--user-data-dir={home}", "--no-pdf-header-footer", f"--print-to-pdf={pdf}"]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            words.append("--no-sandbox")  # it refuses root with one; the page is ours, and has no script
        try:
            subprocess.run([*words, page.resolve().as_uri()], check=True, timeout=PATIENCE, stdin=subprocess.DEVNULL,
                           stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        except (OSError, subprocess.SubprocessError):
            pdf.unlink(missing_ok=True)
    return "" if pdf.is_file() else f"No PDF: {Path(program).name} did not print the page; print it from a browser."
