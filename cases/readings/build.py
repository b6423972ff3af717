"""A case solved in 3-D as far as its readings need it.

Strings of which no output was read are not solved for, and eddy currents only where a coil was read with
alternating current.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np

from stringflux.geometry.case.model import Case
from stringflux.postprocess.readings.build_model import BuildModel
from stringflux.postprocess.readings.reading import Reading, asks_inductance
from stringflux.postprocess.readings.row_model import gap_range
from stringflux.solver.solid.solve import with_signals
from stringflux.solver.stages import Keep, made_anew

from ..solved.materials import case_materials
from ..solved.numerics import SHIPPED, Numerics
from ..solved.signal_doubt import inductance_span, signal_materials
from ..solved.solid_inputs import solid_inputs
from ..solved.solve_build import connected_turns, solve_solid_inputs, strings_over
from ..solved.solve_row import one_thread
from ..solved.terminals import build_network, connected_coils
from ..solved.windings import coil_windings

AS_READ = 20.0
"""°C of the copper; each reading of it is taken to its own temperature from there."""
_MAP_REACH = 2e-3  # how far the fields of a case go under and over its strings, m


def build_model(case: Case, readings: Sequence[Reading], quality: str,
                progress: Callable[[str, float], None], keep: Keep = made_anew,
                numerics: Numerics = SHIPPED) -> BuildModel:
    """Solve a build for its readings.

    Parameters
    ----------
    quality : {"draft", "normal", "fine"}
    numerics : Numerics

    Raises
    ------
    CaseError, SolveError, MissingLibraryError
    """
    materials = case_materials(case)
    inputs = solid_inputs(case, quality, materials, numerics)
    solved = solve_solid_inputs(inputs, lambda stage: progress(stage, 0.3), keep)
    solved = solved.connected(connected_turns(case, solved.matrix))
    heard = sorted({r.string for r in readings if r.quantity == "output" and r.string is not None})
    if heard:
        progress("answers to the strings", 0.4)
        over = strings_over(*reaching(case, readings))
        with one_thread():
            looked = partial(solved.over, materials=materials, quality=numerics.section_mesh(quality),
                             reach=numerics.string.reach, numerics=numerics.row)
            solved = looked([over[number - 1] for number in heard])
            if all(answer.across for answer in solved.field.answers):  # then those beside them are counted
                solved = looked(over)
    f = np.array(numerics.frequencies)
    if any(r.alternating for r in readings):
        with one_thread():
            coils = build_network(case, solved, materials, f,
                                  lambda share: progress("eddy currents", 0.45 + 0.15 * share), numerics.eddies,
                                  AS_READ)
    else:
        coils = connected_coils(case, solved.matrix, f[:1], AS_READ)
    span = (1.0, 1.0)
    if asks_inductance(readings):
        progress("doubt about signals", 0.6)
        with one_thread():
            ends = [with_signals(solved, m).inductance for m in signal_materials(materials)]
        span = inductance_span(solved.inductance, ends)
    return BuildModel(case, solved, materials, coil_windings(case, AS_READ), coils, numerics.string, span)


def reaching(case: Case, readings: Sequence[Reading]) -> tuple[Case, float]:
    """A case, of a row too, with its strings so that the tables of the fields cover the readings' gaps, and how much
    higher, m."""
    gaps: dict[int, list[float]] = {}
    for r in readings:
        if r.quantity == "output":
            gaps.setdefault(r.string or 1, []).append(r.gap or 0.0)
    strings, above = list(case.string), 0.0
    for number, all_gaps in gaps.items():
        low, high = gap_range(all_gaps)
        middle = low + _MAP_REACH
        strings[number - 1] = strings[number - 1].model_copy(
            update={"gap": middle, "height": None, "fretted_gap": None})
        above = max(above, high + 0.1e-3 - middle - _MAP_REACH)
    return case.model_copy(update={"string": tuple(strings)}), above
