"""Designs that share a 3-D solution, one after the other, and the time that a study of builds will take.

A solution takes, with u unknowns of its mesh, about (measured on the shipped builds, one core, 2026)

    t = 80 µs · u        s,    u of the quality from that of a draft mesh by a factor

Eddy currents over the band take about as long again; so do one to three answers of all bodies to a string's own field
(:mod:`stringflux.solver.solid.under_strings`), of which long bodies need one and others one for each string. Each
string takes half a second or less besides.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.solid import solid_mesh
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.geometry.reading.read import read_case
from stringflux.geometry.shapes.symmetry import Symmetry
from stringflux.solver.solid.halves import magnetic, planes_of_symmetry
from stringflux.solver.solid.under_strings import AllBodies, what_answers

from ...files.load import built_in_uses
from ...jobs.verify_needs import needs_for
from ...solved.choice import unround
from ...solved.materials import case_materials
from ...solved.solve_build import strings_over
from ...terminal.progress import said_time
from ..engine.task import Task

FINER: Mapping[str, float] = {"draft": 1.0, "normal": 2.5, "fine": 6.5}
"""Unknowns of each quality over those of a draft mesh (stacked-six: 12 345, 30 370, 80 180)."""
PER_SOLUTION = 8e-5  # s and unknown; 55 to 100 µs measured from 20 000 to 99 000 unknowns
EDDIES = 1.0  # solutions
ANSWER, UNLIKE = 0.35, 2.5
"""Solutions for each answer of all bodies to a string's own field, that times the second where bodies are unlike on
both sides of x = 0. At draft and normal 0.29 to 0.43 measured on `shaped-blade-six`, 0.46 to 0.52 on `blade-six`,
0.27 to 0.36 on six wedges; 0.78 to 0.93 on six screws beside a blade, which are unlike."""
IN_A_ROW = 1.0
"""Usual time of a row of round poles, s."""
BALANCE = (3, 6)
"""Usual number of solutions of a balance by heights of poles: as it is, 1 to 4 rounds, and what an error costs."""
LOOKED_AT = 32  # designs whose planes of symmetry are counted
AT_REST, PLUCKED = 0.4, 2.0  # s for a string
_PLUCKED = frozenset({"output", "output_balance", "hum_per_output", "pull"})
_EDDIES = frozenset({"resonance", "resonance_peak"})

# What no 3-D solution depends on: tables of the file, and keys of a coil.
_STRINGS = ("title", "note", "probe_height", "connection", "strings", "string", "load", "scatter", "lead")
_WINDING = ("turns", "wire", "insulation", "overall_diameter", "winding", "resistance", "capacitance",
            "grounded_end", "poles", "potted", "leads", "taps", "name")

_TAKES_SPACE = frozenset({"fill", "wound_build", "wound_builds"})


def solid_part(task: Task) -> str:
    """What a design's 3-D solution depends on, as text; equal ones share it, unequal ones seldom do."""
    left = {key: value for key, value in task.document.items() if key not in _STRINGS}
    left["coil"] = _window(left.get("coil"))
    left["second_coil"] = [{**other, "coil": _window(other.get("coil"))} for other in left.get("second_coil", [])]
    return json.dumps(left, sort_keys=True, default=str)


def _window(coil: object) -> object:
    if not isinstance(coil, Mapping) or _TAKES_SPACE & coil.keys():  # by wire and turns
        return coil
    return {k: v for k, v in coil.items() if k not in _WINDING}


@dataclass(frozen=True, kw_only=True)
class Effort:
    """The work of a study of builds.

    Attributes
    ----------
    designs, solutions : int
        How many, and how many different 3-D solutions they need.
    per_solution, per_design : float
        s on one core.
    """

    designs: int
    solutions: int
    per_solution: float
    per_design: float

    def seconds(self, workers: int) -> float:
        """Time with so many processes; one that several share is solved by each."""
        each = math.ceil(self.designs / workers)
        solved = min(each, math.ceil(self.solutions / workers))
        return solved * self.per_solution + each * self.per_design

    def words(self, workers: int) -> str:
        """The sentence that is said before."""
        one = self.solutions == 1
        return (f"{self.designs} {'design' if self.designs == 1 else 'designs'} with {self.solutions} 3-D "
                f"{'solution' if one else 'solutions'} of about {said_time(self.per_solution)}: about "
                f"{said_time(self.seconds(workers))} with {workers} {'worker' if workers == 1 else 'workers'}.")


def effort(case: Case, tasks: Sequence[Task], want: Iterable[str]) -> Effort:
    """What a study of a build will take; the case as it stands is meshed once, coarsely."""
    names = set(want)
    different = {solid_part(task): task for task in tasks}
    planes = len(planes_of_symmetry(magnetic(case.solid_bodies(), case_materials(case)), case.racetracks()).axes)
    one = seconds_of_a_solution(case, tasks[0].quality) * _larger(planes, [*different.values()])
    own = AT_REST + (PLUCKED if names & _PLUCKED else 0.0)
    return Effort(designs=len(tasks), solutions=len(different),
                  per_solution=one * (1 + (EDDIES if names & _EDDIES else 0.0) + answers(case)),
                  per_design=own * len(case.string))


def answers(case: Case, *, uneven: bool = False) -> float:
    """What the strings' own fields take, in solutions; `uneven` as of :func:`seconds_of_a_solution`."""
    bodies = magnetic(case.solid_bodies(), case_materials(case))
    halves = planes_of_symmetry(bodies, case.racetracks())
    under = what_answers(bodies, strings_over(case), halved=halves.y and not uneven)
    made = {own for own in under if isinstance(own, AllBodies)}
    return len(made) * ANSWER * (1.0 if halves.x else UNLIKE)


def words_beyond_a_row(case: Case, quality: str) -> str:
    """What it costs that the poles of a plain row are not round; "" where they are, or the case is a build anyway."""
    if case.body or case.second_coil or not (found := unround(case)):
        return ""
    seconds = seconds_of_a_solution(case, quality) * (1 + answers(case)) + AT_REST * len(case.string)
    return (f"Solved in 3-D, for it has {found[0]}: about {said_time(seconds)} at {quality}, where the fast solver "
            f"of rows takes about {said_time(IN_A_ROW)} for round ones.")


def seconds_of_a_solution(case: Case, quality: str, *, uneven: bool = False) -> float:
    """Time of one 3-D solution, s; `uneven`: after a movement that takes the mirror plane across the strings away."""
    bodies = magnetic(case.solid_bodies(), case_materials(case))
    halves = planes_of_symmetry(bodies, case.racetracks())
    mesh = solid_mesh(bodies, SOLID_QUALITIES["draft"], symmetry=Symmetry(x=halves.x, y=halves.y and not uneven))
    return float(PER_SOLUTION * needs_for(mesh).unknowns * FINER[quality])


def words_of_a_balance(case: Case, quality: str) -> str:
    """What is said before the heights of poles of a build are balanced."""
    one = seconds_of_a_solution(case, quality, uneven=True) * (1 + answers(case, uneven=True))
    one += 2 * AT_REST * len(case.string)
    few, many = BALANCE
    return (f"Solved in 3-D. Every other setting of the poles is a solution of its own of about {said_time(one)}; "
            f"{few} to {many} are usual: {said_time(few * one)} to {said_time(many * one)}.")


def _larger(planes: int, tasks: Sequence[Task]) -> float:
    """How much longer a mean solution of these designs takes than that of a case with so many planes of symmetry:
    each that a design has lost doubles its mesh."""
    found, uses = [], built_in_uses()
    for task in tasks[::math.ceil(len(tasks) / LOOKED_AT)]:
        try:
            case = read_case(task.document, materials=uses)
        except CaseError:
            continue  # a design that cannot be takes no time
        bodies = magnetic(case.solid_bodies(), case_materials(case))
        found.append(2.0 ** (planes - len(planes_of_symmetry(bodies, case.racetracks()).axes)))
    return math.fsum(found) / len(found) if found else 1.0
