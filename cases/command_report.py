"""`stringflux report`: everything about a case in one HTML file to hand on."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stringflux.geometry.case import Case
from stringflux.geometry.errors import CaseError, OutputError
from stringflux.geometry.mesh import QUALITIES
from stringflux.geometry.units import shown

from .beside import beside
from .load import find_case, load_case
from .progress import Report as Stage
from .progress import shown_progress
from .start import write_new

if TYPE_CHECKING:
    from stringflux.postprocess.report_findings import Findings

ENDINGS = (".html", ".htm")
PLUCK = 1e-3  # m


def run_report(which: str, *, out: str | None, quality: str, changes: Mapping[str, Any]) -> None:
    """Everything that can be refused is refused before the computation starts."""
    if quality not in QUALITIES:
        raise CaseError(f"--quality: received {shown(quality)}; write {', '.join(QUALITIES)}")
    begin = time.perf_counter()
    case = load_case(which, changes)
    path = writable(out if out is not None else f"{find_case(which).stem}-report.html")
    # a build's 3-D solution is kept in this process, which is worth more than a second processor
    apart = beside(motion, case, quality) if case.is_plain_row else nullcontext(lambda: motion(case, quality))
    with apart as moving, shown_progress() as progress:
        found = findings(which, case, quality=quality, changes=changes, progress=_part(progress, 0.0, 0.4))
        from stringflux.postprocess.report import render
        from stringflux.postprocess.report_chapters import report_of
        from stringflux.postprocess.report_pictures import pictures_at_rest, pictures_in_motion

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
    from stringflux.postprocess.report import GENERATOR

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


def findings(which: str, case: Case, *, quality: str, changes: Mapping[str, Any] | None = None,
             progress: Stage = lambda stage, share: None) -> Findings:
    """Compute everything that a report tells of strings at rest.

    Parameters
    ----------
    which : str
        The case's file or shipped name, for its text.
    case : Case
        As read from there, with `changes`.
    """
    import numpy as np

    from stringflux.postprocess.circuit import coil_circuit
    from stringflux.postprocess.hum import hum_area
    from stringflux.postprocess.load import network
    from stringflux.postprocess.report_findings import Findings
    from stringflux.postprocess.winding import winding
    from stringflux.solver.eddy import row_impedance

    from .case_materials import case_materials
    from .case_solid import solve_case_solid
    from .command_impedance import FREQUENCIES, control_settings
    from .prediction import predict, solve_case_row
    from .results_document import versions

    path, materials, made = find_case(which), case_materials(case), winding(case)
    prediction = predict(case, quality=quality, progress=_part(progress, 0.0, 0.8))
    progress("eddy currents", 0.8)
    frequency, build = np.array(FREQUENCIES), None
    if case.is_plain_row:
        row = solve_case_row(case, quality, materials)  # kept by the prediction
        circuit = coil_circuit(frequency=frequency, inductance=row_impedance(row, materials, frequency).inductance,
                               resistance=made.resistance, capacitance=made.capacitance)
        low, high = (replace(circuit, capacitance=c) for c in made.capacitance_band)
        hum = hum_area(row)
    else:
        from .report_build import build_findings

        build, hum = build_findings(case, solve_case_solid(case, quality, materials), materials, frequency)
        circuit = build.network.circuit()
        low, high = (build.network.with_capacitance([w.capacitance_band[i] for w in build.windings]).circuit()
                     for i in (0, 1))
    return Findings(
        name=path.stem, case=case, text=path.read_text(encoding="utf-8-sig"), changes=dict(changes or {}),
        prediction=prediction, materials=materials, winding=made, circuit=circuit, circuit_ends=(low, high),
        loads={s.name: network(case.load, volume_setting=s.volume, tone_setting=s.tone)
               for s in control_settings(case.load)},
        hum=hum, build=build, versions=versions(),
    )


Motion = tuple[tuple[Any, ...], tuple[Any, ...], tuple[str, ...]]
"""Plucked strings (at the open coil, and at the amplifier), pull on each, and why something of it cannot be had."""


def motion(case: Case, quality: str) -> Motion:
    """The plucked strings and the pull on them."""
    from stringflux.postprocess.string_modes import Pluck

    from .plucked import play_both, pull_case

    without: list[str] = []
    played = _or_told(without, lambda: play_both(case, Pluck(displacement=PLUCK, at=1 / 8), quality=quality))
    pulls = _or_told(without, lambda: pull_case(case, quality=quality))
    return played, pulls, tuple(dict.fromkeys(without))


def with_motion(found: Findings, moved: Motion) -> Findings:
    """The findings with those of the moving strings."""
    both, pulls, without = moved
    played, loaded = both or ((), ())
    said = f"plucked {PLUCK * 1e3:g} mm aside at 1/8 of their length from the bridge, 45° to the top plate"
    return replace(found, played=played, loaded=loaded, pulls=pulls, without=without, pluck=said)


def _or_told(told: list[str], work: Callable[[], tuple[Any, ...]]) -> tuple[Any, ...]:
    """What `work` gives, or nothing and the reason added to `told`."""
    try:
        return work()
    except CaseError as error:
        told.append(str(error))
        return ()
