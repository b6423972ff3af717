"""A case of long bars by the planar solver: what its solution depends on, and the solution."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from stringflux.geometry.case.model import Case
from stringflux.geometry.mesh.bars import plane_mesh
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.shapes.long_bars import LongBuild, long_build
from stringflux.solver.materials import Material, Materials
from stringflux.solver.plane.section import forget_planes
from stringflux.solver.plane.solve import SolvedBars, solve_bars
from stringflux.solver.stages import Keep, made_anew

from .numerics import SHIPPED, Numerics
from .solve_build import connected_turns, magnetic_bodies, strings_over
from .solve_row import one_thread

ENDS_ESTIMATED = ("plane: the ends of the bars are estimated; on the shipped blade-six that is within 0.5 % of 3-D "
                  "in the middle and 1 % at the end strings, and 7 % right over an end of the blade.")
"""What a prediction says of itself; the figures: tests/measure/plane.py ends."""


@dataclass(frozen=True, kw_only=True)
class PlaneInputs:
    """All that a planar solution depends on; strings and turns are not among it."""

    build: LongBuild
    materials: tuple[tuple[str, Material], ...]
    quality: Quality


def plane_inputs(case: Case, quality: str, materials: Materials, numerics: Numerics = SHIPPED) -> PlaneInputs:
    """What a case asks of the planar solver.

    Raises
    ------
    CaseError
        If it is no section of long bars.
    """
    build = long_build(magnetic_bodies(case), [replace(c, turns=1.0, sense=1) for c in case.racetracks()])
    names = sorted({p.material for p in build.shape.parts})
    return PlaneInputs(build=build, materials=tuple((name, materials[name]) for name in names),
                       quality=numerics.section_mesh(quality))


def solve_case_plane(case: Case, quality: str, materials: Materials,
                     progress: Callable[[str], None] = lambda stage: None, above: float = 0.0,
                     keep: Keep = made_anew, numerics: Numerics = SHIPPED) -> SolvedBars:
    """Everything upstream of the strings; another gap, string or number of turns solves nothing again.

    Parameters
    ----------
    materials : dict
        From :func:`.materials`.
    above : float
        How much higher than maps of ± 2 mm fields are tabulated, m.
    numerics : Numerics
    """
    inputs = plane_inputs(case, quality, materials, numerics)
    with one_thread():
        solved = keep("solved bars", inputs, lambda: solve_bars(inputs.build, dict(inputs.materials),
                                                                quality=inputs.quality, progress=progress))
        solved = solved.connected(connected_turns(case, solved.matrix))
        progress("fields over the bars")
        slope = abs(math.tan(case.strings.plane_angle))
        return solved.over(strings_over(case, above), slope, numerics.string.reach)


def forget_bars() -> None:
    """Drop meshes and what is assembled on them, so that the next case is computed from nothing."""
    forget_planes()
    plane_mesh.cache_clear()
