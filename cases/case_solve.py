"""The solver that a case needs, and its solution: a row of poles, or bodies anywhere in 3-D.

A row of poles in one coil has the fast chain of coupled axisymmetric cells; everything else is one 3-D solve.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.long_build import why_no_section
from stringflux.geometry.mesh import QUALITIES
from stringflux.geometry.shapes import Racetrack
from stringflux.geometry.solid_mesh import SOLID_QUALITIES, SolidQuality
from stringflux.geometry.solid_shapes import SolidBody
from stringflux.geometry.units import shown
from stringflux.postprocess.coil_weights import static_weights
from stringflux.postprocess.linkage import band_over_heights
from stringflux.solver.solid_under import Over
from stringflux.solver.solved_row import REACH, SolvedRow
from stringflux.solver.solved_solid import SolvedSolid, solve_solid

from .case_row import one_thread, row_inputs, solve_inputs

SOLVERS = ("auto", "row", "solid", "plane")
_KEPT = 3

Solved: TypeAlias = SolvedRow | SolvedSolid


@dataclass(frozen=True, kw_only=True)
class Choice:
    """A solver, "row", "solid" or "plane", and the words that say why."""

    solver: str
    why: str


@dataclass(frozen=True, kw_only=True)
class SolidInputs:
    """All that a 3-D solution depends on; strings, turns and connections are not among it."""

    bodies: tuple[SolidBody, ...]
    coils: tuple[Racetrack, ...]
    materials: tuple[tuple[str, Any], ...]
    quality: SolidQuality


_SOLIDS: OrderedDict[SolidInputs, SolvedSolid] = OrderedDict()
_ANSWERS: OrderedDict[tuple[SolidInputs, tuple[Over, ...]], tuple[Any, Any]] = OrderedDict()


def choose(case: Case, wanted: str = "auto") -> Choice:
    """Which solver a case goes to.

    Parameters
    ----------
    wanted : {"auto", "row", "solid", "plane"}
        "plane" only when it is asked for: it is fast, and less exact than 3-D near the ends of the bars.

    Raises
    ------
    CaseError
        If that solver cannot do the case.
    """
    if wanted not in SOLVERS:
        raise CaseError(f"--solver: received {shown(wanted)}; write {', '.join(SOLVERS)}")
    beyond = _beyond_a_row(case)
    if wanted == "row" and beyond:
        raise CaseError(f"--solver: row takes one row of poles in one coil, but this case has {beyond}; leave "
                        "--solver out or write solid")
    no_section = why_no_section(magnetic_bodies(case), case.racetracks())
    if wanted == "plane" and no_section:
        raise CaseError("--solver: plane takes long bars across the strings, all about as long, in one coil, but "
                        f"this case has {no_section}; leave --solver out")
    if case.history == "before" and (beyond or wanted in ("solid", "plane")):
        raise CaseError('row, history: "charged before assembly" is for one row of poles in one coil; the other '
                        'solvers take magnets as charged after assembly, so write that or leave it out')
    if wanted in ("solid", "plane"):
        return Choice(solver=wanted, why="asked for")
    if beyond and not no_section:
        return Choice(solver="solid", why=f"it has {beyond}; --solver plane is faster, for first looks")
    if beyond:
        return Choice(solver="solid", why=f"it has {beyond}")
    return Choice(solver="row", why="it is one row of poles in one coil")


def magnetic_bodies(case: Case) -> tuple[SolidBody, ...]:
    """The bodies that a static field knows of."""
    return tuple(b for b in case.solid_bodies() if case.is_magnetic(b.material))


def _beyond_a_row(case: Case) -> str:
    """What the row solver does not know, "" if there is nothing."""
    if case.is_plain_row:
        return ""
    found = []
    if not case.placed_poles():
        found.append("no row of poles")
    if len(case.rows()) > 1:
        found.append(f"{len(case.rows())} rows of poles")
    if len(case.coils()) > 1:
        found.append(f"{len(case.coils())} coils")
    if case.body:
        found.append(f"{len(case.body)} other {'body' if len(case.body) == 1 else 'bodies'}")
    return " and ".join(found) or "a row or a coil off x = 0"


def solve_case(case: Case, quality: str, materials: dict[str, Any],
               progress: Callable[[str], None] = lambda stage: None, *, above: float = 0.0,
               solver: str = "auto") -> Solved:
    """Everything upstream of the strings, by the solver that the case needs, with its coils as they are connected.

    Parameters
    ----------
    materials : dict
        From :func:`.case_materials`.
    above : float
        How much higher than maps of ± 2 mm a row's fields are tabulated, m.
    solver : {"auto", "row", "solid"}
        For "plane" there is :func:`.solve_case_plane`.
    """
    if choose(case, solver).solver == "row":
        coil = case.racetrack()
        row = solve_inputs(row_inputs(case, quality, materials, above), progress)
        return row.wound(coil.turns * coil.sense)
    inputs = solid_inputs(case, quality, materials)
    solved = solve_solid_inputs(inputs, progress)
    solved = solved.connected(connected_turns(case, solved.matrix))
    progress("answers to the strings")
    return under_strings(solved, inputs, strings_over(case, above), quality)


def solid_inputs(case: Case, quality: str, materials: dict[str, Any]) -> SolidInputs:
    """What a case asks of the 3-D solver."""
    bodies = case.solid_bodies()
    used = {b.material for b in bodies}
    return SolidInputs(bodies=bodies, coils=tuple(_one_turn(c) for c in case.racetracks()),
                       materials=tuple((name, materials[name]) for name in sorted(used)),
                       quality=SOLID_QUALITIES[quality])


def solve_solid_inputs(inputs: SolidInputs, progress: Callable[[str], None] = lambda stage: None) -> SolvedSolid:
    """Solve, or give the kept solution: another gap, string, number of turns or connection solves nothing again."""
    if inputs not in _SOLIDS:
        with one_thread():
            _SOLIDS[inputs] = solve_solid(inputs.bodies, inputs.coils, dict(inputs.materials), quality=inputs.quality,
                                          progress=progress)
        while len(_SOLIDS) > _KEPT:
            _SOLIDS.popitem(last=False)
    return _SOLIDS[inputs]


def under_strings(solved: SolvedSolid, inputs: SolidInputs, strings: tuple[Over, ...], quality: str) -> SolvedSolid:
    """With the answers of what lies below each string, which are kept: over a blade they cost as much as all else."""
    key = inputs, strings
    if key not in _ANSWERS:
        with one_thread():
            found = solved.over(strings, dict(inputs.materials), QUALITIES[quality], REACH).field
        _ANSWERS[key] = found.places, found.answers
        while len(_ANSWERS) > _KEPT:
            _ANSWERS.popitem(last=False)
    return replace(solved, field=solved.field.over(*_ANSWERS[key]))


def forget_solids() -> None:
    """Drop the kept solutions."""
    _SOLIDS.clear()
    _ANSWERS.clear()


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
    for shape, face in zip(case.string_shapes(), case.faces_below(), strict=True):
        low, high = band_over_heights([shape], [face])
        out.append(Over(y=shape.y, face=face, low=round(low - face, 9), high=round(high + above - face, 9)))
    return tuple(out)


def _one_turn(coil: Racetrack) -> Racetrack:
    return replace(coil, turns=1.0, sense=1)
