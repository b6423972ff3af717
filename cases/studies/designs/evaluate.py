"""One design of a study: from the content of a case file to the figures that were asked for."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from math import log10, nan

import numpy as np

from stringflux.geometry.errors import CaseError, StringfluxError
from stringflux.geometry.reading.read import read_case
from stringflux.postprocess.coil.hum import HOME_MEAN, MAINS
from stringflux.solver.stages import Keep

from ...files.load import built_in_uses
from ...solved.numerics import SHIPPED, Numerics
from ...solved.signal_doubt import inductance_span
from ...solved.solve import solved_case
from ...solved.solve_row import one_thread
from ..engine.task import Outcome, Task
from .design import Design
from .outputs import COMMON, wanted_figures, without_value
from .wanted import wound_to

Values = dict[str, float]


def evaluate(task: Task, store: Keep | None = None, numerics: Numerics = SHIPPED) -> Outcome:
    """Compute a design.

    Parameters
    ----------
    task : Task
        Its `sought` is "KIND VALUE", as of :func:`.wanted.wound_to`: turns are looked for first.
    store : Keep, optional
        Where stages are kept; it makes no difference to the values. None keeps nothing beyond this design.
    numerics : Numerics

    Returns
    -------
    Outcome
        With `failure` told in one sentence where the case cannot be or does not settle.
    """
    start = time.perf_counter()
    try:
        values, failure = _values(task, store, numerics), ""
    except StringfluxError as error:
        values, failure = {}, str(error)
    return Outcome(number=task.number, values=values, failure=failure, seconds=time.perf_counter() - start)


def evaluate_with_default_store(task: Task) -> Outcome:
    """:func:`evaluate` with the store of this process; what workers are given."""
    from ...kept.store import default_store

    return evaluate(task, default_store())


def _values(task: Task, keep: Keep | None, numerics: Numerics) -> Values:
    case = read_case(task.document, materials=built_in_uses())
    absent = without_value(case)
    names = wanted_figures(task.want or [name for name in COMMON if name not in absent])
    if refused := [reason for name, reason in absent.items() if name in names]:
        raise CaseError(refused[0])
    found: Values = {}
    with one_thread():
        if task.sought:
            kind, wanted = task.sought.split()
            case = wound_to(case, kind, float(wanted), keep=keep, quality=task.quality)
        design = Design(solved_case(case, task.quality, keep=keep, numerics=numerics))
        for group, compute in _GROUPS.items():
            if any(name in names for name in group):
                found |= compute(design)
    return {k: v for k, v in found.items() if _base(k) in names}


def _base(column: str) -> str:
    return column.split("_", 2)[2] if column.startswith(("string_", "pole_")) else column


def _columns(name: str, per: str, total: float, each: Sequence[float]) -> Values:
    return {name: float(total), **{f"{per}_{i}_{name}": float(v) for i, v in enumerate(each, start=1)}}


def _decibels(values: Sequence[float]) -> list[float]:
    loudest = max(values)
    return [20 * log10(v / loudest) if v > 0 else -np.inf for v in values]


def _at_rest(design: Design) -> Values:
    rests = design.rests()
    S = [abs(design.turns * r.slope) for r in rests]
    slopes = [20 / np.log(10) * r.curvature / r.slope if r.slope else nan for r in rests]
    levels = _decibels(S) if min(S) > 0 else [20 * log10(v / max(S)) if v else nan for v in S]
    return (_columns("sensitivity", "string", float(np.mean(S)), S)
            | _columns("balance", "string", float(np.ptp(levels)), levels)
            | _columns("gap_slope", "string", float(np.mean(slopes)), slopes))


def _plucked(design: Design) -> Values:
    volts = design.outputs()
    levels = _decibels(volts) if max(volts) > 0 else [nan] * len(volts)
    mean = float(np.mean(volts))
    hum = design.solved.hum_area().voltage(HOME_MEAN, MAINS[0])
    return (_columns("output", "string", mean, volts)
            | _columns("output_balance", "string", max(levels) - min(levels), levels)
            | {"hum_per_output": 20 * log10(hum / mean) if mean > 0 else nan})


def _pulls(design: Design) -> Values:
    largest = [max(cents, key=abs) for cents in design.pulls()]
    return _columns("pull", "string", max(map(abs, largest)), largest)


def _turns(design: Design) -> Values:
    return {"turns": design.case.coil.turns}


def _resistance(design: Design) -> Values:
    return {"resistance": design.solved.resistance()}


def _capacitance(design: Design) -> Values:
    return {"capacitance": design.solved.capacitance()}


def _inductance(design: Design) -> Values:
    return {"inductance": design.solved.inductance()}


def _inductance_ends(design: Design) -> Values:
    L = design.solved.inductance()
    low, high = inductance_span(L, design.solved.signal_inductances())
    return {"inductance_least": low * L, "inductance_most": high * L}


def _hum(design: Design) -> Values:
    return {"hum_area": float(np.linalg.norm(design.solved.hum_area().total))}


def _faces(design: Design) -> Values:
    field = design.solved.face_field()
    return _columns("face_field", "pole", float(np.mean(np.abs(field))), list(field))


def _loaded(design: Design) -> Values:
    response = design.loaded()
    return {"resonance": response.resonance or nan, "resonance_peak": nan if response.peak is None else response.peak}


def _magnets(design: Design) -> Values:
    return {"magnet_volume": design.magnets()}


_GROUPS: dict[tuple[str, ...], Callable[[Design], Values]] = {
    ("sensitivity", "balance", "gap_slope"): _at_rest,
    ("output", "output_balance", "hum_per_output"): _plucked,
    ("pull",): _pulls,
    ("turns",): _turns,
    ("resistance",): _resistance,
    ("capacitance",): _capacitance,  # of several coils it takes their inductances, and so a solution
    ("inductance",): _inductance,
    ("inductance_least", "inductance_most"): _inductance_ends,
    ("hum_area",): _hum,
    ("face_field",): _faces,
    ("resonance", "resonance_peak"): _loaded,
    ("magnet_volume",): _magnets,
}
