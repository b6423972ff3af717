"""A case of long bars by the planar solver: what its solution depends on, the solution, and what follows from it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import PlacedString
from stringflux.geometry.mesh.bars import plane_mesh
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.shapes.long_bars import LongBuild, long_build
from stringflux.postprocess.pictures.bar_section import plane_record
from stringflux.postprocess.plucked.sensed import HeardCoil
from stringflux.postprocess.records.prediction import PlaceRecord, SliceRecord
from stringflux.solver.materials import Material, Materials
from stringflux.solver.plane.section import forget_planes
from stringflux.solver.plane.solve import SolvedBars, solve_bars
from stringflux.solver.stages import Keep, made_anew

from ..kept.digest import digest
from .abstract import Stage, quiet
from .build_case import BuildCase
from .numerics import SHIPPED, Numerics
from .records import Picture, UnitFields
from .solve_build import connected_turns, strings_over
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
    build = long_build(case.magnetic_bodies(), [replace(c, turns=1.0, sense=1) for c in case.racetracks()])
    names = sorted({p.material for p in build.shape.parts})
    return PlaneInputs(build=build, materials=tuple((name, materials[name]) for name in names),
                       quality=numerics.plane_mesh(quality))


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


class BarsCase(BuildCase):
    """The fields of long bars by the planar solver, and the rest of them as of any bodies."""

    def solution(self, above: float = 0.0, stage: Stage = quiet) -> SolvedBars:
        if above not in self._solutions:
            self._solutions[above] = solve_case_plane(self.case, self.quality, self.materials, stage, above,
                                                      self.keep, self.numerics)
        return self._solutions[above]

    @cached_property
    def _solutions(self) -> dict[float, SolvedBars]:
        return {}

    def over_coils(self, string: PlacedString) -> tuple[PlaceRecord, ...]:
        return ()

    def picture(self, stage: Stage = quiet, *, cut: bool = True) -> Picture:
        if not cut:
            return Picture()
        stage("picture of the field")
        return Picture(cut=self._cut)

    @cached_property
    def _cut(self) -> SliceRecord:
        return plane_record(self.case, self.case.magnetic_bodies(), self.solution())

    def remarks(self) -> tuple[str, ...]:
        return (ENDS_ESTIMATED,)

    def heard_coils(self, *, every: bool) -> tuple[HeardCoil, ...]:
        return ()

    def unit_fields(self) -> UnitFields:
        inputs = plane_inputs(self.case, self.quality, self.materials, self.numerics)
        return UnitFields(field=self.solution().field, turns=1.0, coils=(self._weights,),
                          magnets=(digest(inputs), strings_over(self.case), self._looked))

    def face_field(self) -> Array:
        return self.solution().face_field(self.case.probe_height)

    def inductance(self) -> float:
        return abs(self.solution().inductance)


def forget_bars() -> None:
    """Drop meshes and what is assembled on them, so that the next case is computed from nothing."""
    forget_planes()
    plane_mesh.cache_clear()
