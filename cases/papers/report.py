"""The report as one page: everything that a pickup tells, computed and laid out."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError

if TYPE_CHECKING:
    from stringflux.postprocess.report.findings import Findings

    from ..pickup import Pickup

Stage = Callable[[str, float], None]


def nobody(stage: str, share: float) -> None:
    """Tell nobody how far the work is."""


@dataclass(frozen=True, kw_only=True)
class CaseText:
    """What a report says of where its case is from.

    Attributes
    ----------
    name : str
        Of its file, without the ending.
    text : str
        Of the file.
    changes : mapping of str to object
        Put in place of what the text says, by dotted path.
    """

    name: str
    text: str
    changes: Mapping[str, Any] = field(default_factory=dict)


def report_page(pickup: Pickup, source: CaseText, *, moving: Callable[[], Motion] | None = None,
                progress: Stage = nobody) -> tuple[str, tuple[str, ...]]:
    """The page, HTML that needs nothing else, and why something is not in it.

    Parameters
    ----------
    pickup : Pickup
    source : CaseText
    moving : callable, optional
        Gives :func:`motion` of the pickup, where another process computes it.
    """
    found = findings(pickup, source, progress=_part(progress, 0.0, 0.4))
    from stringflux.postprocess.report.chapters import report_of
    from stringflux.postprocess.report.page import render
    from stringflux.postprocess.report.pictures import pictures_at_rest, pictures_in_motion

    drawn = pictures_at_rest(found, _part(progress, 0.4, 0.8))
    progress("plucked strings", 0.8)
    found = with_motion(found, motion(pickup) if moving is None else moving())
    drawn |= pictures_in_motion(found, _part(progress, 0.8, 1.0))
    return render(report_of(found, drawn), datetime.now()), found.without


def findings(pickup: Pickup, source: CaseText, *, progress: Stage = nobody) -> Findings:
    """Compute everything that a report tells of strings at rest."""
    from stringflux.postprocess.report.findings import BuildFindings, Findings

    from ..jobs.impedance import loads_of
    from ..output.document import versions

    case = pickup.case
    prediction = pickup.prediction(progress=_part(progress, 0.0, 0.8))
    progress("eddy currents", 0.8)
    terminals, hum = pickup.impedance().terminals, pickup.solved.hum_areas()
    unknowns, copies = pickup.solved.unknowns()
    build = None if terminals.network is None else BuildFindings(
        windings=pickup.winding(), network=terminals.network, areas=hum.areas, residue=hum.residue,
        unknowns=unknowns, copies=copies)
    return Findings(
        name=source.name, case=case, text=source.text, changes=dict(source.changes),
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
    from ..solving import solve

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


def _part(progress: Stage, start: float, end: float) -> Stage:
    """Progress of a part of the work."""
    return lambda stage, share: progress(stage, start + (end - start) * share)
