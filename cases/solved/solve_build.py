"""A case by the 3-D solver: the solution, and its strings over it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import needed_strings
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.postprocess.coil.shares import static_weights
from stringflux.postprocess.string.linkage import band_over_heights
from stringflux.solver.materials import Materials
from stringflux.solver.seam import Over
from stringflux.solver.solid.bias import SolidState
from stringflux.solver.solid.solve import SolvedMagnets, SolvedSolid, Under, solve_magnets, solve_solid
from stringflux.solver.solid.space import SolidSpace
from stringflux.solver.solid.under_strings import answers_under
from stringflux.solver.stages import Keep, made_anew

from .numerics import SHIPPED, Numerics
from .solid_inputs import SolidInputs
from .solve_row import one_thread


def over_strings(case: Case, quality: str, solved: SolvedSolid, materials: Materials,
                 progress: Callable[[str], None] = lambda stage: None, above: float = 0.0,
                 numerics: Numerics = SHIPPED) -> SolvedSolid:
    """A solution under the strings of a case.

    Parameters
    ----------
    materials : dict
        From :func:`.materials`.
    above : float
        How much higher than maps of ± 2 mm answers to strings are tabulated, m.
    numerics : Numerics
    """
    progress("answers to the strings")
    with one_thread():
        return solved.over(strings_over(case, above), materials, numerics.section_mesh(quality),
                           numerics.string.reach, numerics.row)


def answers_for(case: Case, quality: str, materials: Materials, progress: Callable[[str], None] = lambda stage: None,
                numerics: Numerics = SHIPPED) -> Under:
    """What :func:`over_strings` is going to find, for :func:`.solve_solid`; parameters as there."""
    def under(space: SolidSpace, bodies: tuple[SolidBody, ...], bias: SolidState, kept: dict[object, Any]) -> None:
        progress("answers to the strings")
        answers_under(space, bodies, materials, bias, strings_over(case), numerics.section_mesh(quality),
                      numerics.string.reach, kept, numerics.row)

    return under


def solve_solid_inputs(inputs: SolidInputs, progress: Callable[[str], None] = lambda stage: None,
                       keep: Keep = made_anew, under: Under | None = None) -> SolvedSolid:
    """Solve, or give what is kept: another gap, string, number of turns or connection solves nothing again. `under`:
    as of :func:`.solve_solid`."""
    def make() -> SolvedSolid:
        with one_thread():
            return solve_solid(inputs.bodies, inputs.coils, dict(inputs.materials), quality=inputs.quality,
                               history=inputs.history, progress=progress, direct=inputs.direct, under=under)

    return keep("solved build", inputs, make)


def solve_magnet_inputs(inputs: SolidInputs, progress: Callable[[str], None] = lambda stage: None,
                        keep: Keep = made_anew) -> SolvedMagnets:
    """Solve the static field alone, the coils away but for their direct currents, or give what is kept."""
    alone = replace(inputs, coils=())

    def make() -> SolvedMagnets:
        with one_thread():
            return solve_magnets(alone.bodies, dict(alone.materials), quality=alone.quality, history=alone.history,
                                 progress=progress, direct=alone.direct)

    return keep("solved magnets", alone, make)


def connected_turns(case: Case, per_turn: Array) -> Array:
    """What b of one turn of each coil is multiplied with: signed turns, shared as the coils are connected.

    Parameters
    ----------
    per_turn : array (coils, coils)
        Inductances of one turn of each, H.
    """
    turns = np.array([c.turns * c.sense for c in case.racetracks()])
    matrix = per_turn * np.outer(turns, turns)
    return np.asarray(turns * static_weights(case.connection.coils, case.connection.reversed, case.coil_names(),
                                             matrix))


def strings_over(case: Case, above: float = 0.0) -> tuple[Over, ...]:
    """Every string and the heights it may come to."""
    out = []
    for string in needed_strings(case):
        face = string.face.height
        low, high = band_over_heights([string.shape], [face])
        out.append(Over(y=string.y, face=face, low=round(low - face, 9), high=round(high + above - face, 9)))
    return tuple(out)
