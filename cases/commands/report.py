"""`stringflux report`: everything about a case in one HTML file to hand on."""

from __future__ import annotations

import math
import os
import time
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError, OutputError
from stringflux.geometry.units import shown

from ..files.load import find_case, load_case
from ..files.whole import write_new
from ..jobs.second_process import beside
from ..terminal.options import StringOptions, said_in
from ..terminal.progress import Report as Stage
from ..terminal.progress import shown_progress

if TYPE_CHECKING:
    from stringflux.postprocess.report.findings import Findings

    from ..pickup import Pickup

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
    from ..pickup import solve

    pickup = solve(case, quality=quality)
    # a build's 3-D solution is in this process, which is worth more than a second processor
    apart = beside(motion_of_case, case, quality) if case.is_plain_row else nullcontext(lambda: motion(pickup))
    with apart as moving, shown_progress() as progress:
        found = findings(which, pickup, changes=changes, progress=_part(progress, 0.0, 0.4))
        from stringflux.postprocess.report.chapters import report_of
        from stringflux.postprocess.report.page import render
        from stringflux.postprocess.report.pictures import pictures_at_rest, pictures_in_motion

        drawn = pictures_at_rest(found, _part(progress, 0.4, 0.8))
        progress("plucked strings", 0.8)
        found = with_motion(found, moving())
        drawn |= pictures_in_motion(found, _part(progress, 0.8, 1.0))
        page = render(report_of(found, drawn), datetime.now())
    write_new(str(path), page, argument="--out", force=True)
    for reason in found.without:
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


def _part(progress: Stage, start: float, end: float) -> Stage:
    """Progress of a part of the work."""
    return lambda stage, share: progress(stage, start + (end - start) * share)


def findings(which: str, pickup: Pickup, *, changes: Mapping[str, Any] | None = None,
             progress: Stage = lambda stage, share: None) -> Findings:
    """Compute everything that a report tells of strings at rest.

    Parameters
    ----------
    which : str
        The case's file or shipped name, for its text.
    pickup : Pickup
        Of the case as read from there, with `changes`.
    """
    from stringflux.postprocess.report.findings import BuildFindings, Findings

    from ..jobs.impedance import loads_of
    from ..output.document import versions

    path, case = find_case(which), pickup.case
    prediction = pickup.prediction(progress=_part(progress, 0.0, 0.8))
    progress("eddy currents", 0.8)
    terminals, hum = pickup.impedance().terminals, pickup.solved.hum_areas()
    unknowns, copies = pickup.solved.unknowns()
    build = None if terminals.network is None else BuildFindings(
        windings=pickup.winding(), network=terminals.network, areas=hum.areas, residue=hum.residue,
        unknowns=unknowns, copies=copies)
    return Findings(
        name=path.stem, case=case, text=path.read_text(encoding="utf-8-sig"), changes=dict(changes or {}),
        prediction=prediction, materials=pickup.solved.materials, winding=pickup.winding()[0],
        circuit=terminals.circuit, circuit_ends=terminals.ends, loads=loads_of(case.load), hum=hum.together,
        build=build, versions=versions(),
    )


Motion = tuple[tuple[Any, ...], tuple[Any, ...], tuple[str, ...]]
"""Plucked strings (at the open coil, and at the amplifier), pull on each, and why something of it cannot be had."""


def motion(pickup: Pickup) -> Motion:
    """The plucked strings and the pull on them."""
    without: list[str] = []
    played = _or_told(without, lambda: (pickup.signal(every=True).strings, pickup.signal(loaded=True).strings))
    pulls = _or_told(without, lambda: pickup.pull().strings)
    return played, pulls, tuple(dict.fromkeys(without))


def motion_of_case(case: Case, quality: str) -> Motion:
    """The same in a process of its own."""
    from ..pickup import solve

    return motion(solve(case, quality=quality))


def with_motion(found: Findings, moved: Motion) -> Findings:
    """The findings with those of the moving strings."""
    from stringflux.postprocess.plucked.modes import PLUCK

    both, pulls, without = moved
    played, loaded = both or ((), ())
    said = (f"plucked {(PLUCK.displacement or 0) * 1e3:g} mm aside at {Fraction(PLUCK.at)} of their length from the "
            f"bridge, {math.degrees(PLUCK.angle):.0f}° to the top plate")
    return replace(found, played=played, loaded=loaded, pulls=pulls, without=without, pluck=said)


def _or_told(told: list[str], work: Callable[[], tuple[Any, ...]]) -> tuple[Any, ...]:
    """What `work` gives, or nothing and the reason added to `told`."""
    try:
        return work()
    except CaseError as error:
        told.append(str(error))
        return ()
