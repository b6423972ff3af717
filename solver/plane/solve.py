"""From long bars and a coil to their fields: the planar solver's front door for a case.

The section is solved endless (:mod:`.section`), bias and small signal; then its ends are put on
(:mod:`.ends`), the coil being the true race-track. Nothing here depends on a string but the heights at which
fields are asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.shapes.long_bars import LongBuild
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.shapes.section import PlanePart

from ..coil import air as coil_air
from ..coil import sides as plane_coil
from ..coil.air import mean_area
from ..coil.several import CoilsTogether
from ..constants import MU0, NU0
from ..line_answer import LineAnswer
from ..materials.h_of_b import in_section
from ..materials.kinds import BodyMaterial, Materials, body_material, is_magnet
from ..materials.signal import out_of_section
from ..seam import AnsweredPlace, Over, Place, heights_covered
from .ends import LongBars
from .field import BarField, BarTable
from .potential import PotentialPlane
from .section import SolvedPlane, solve_plane
from .states import State
from .string_answer import plane_answer

_MARGIN = 3e-3  # metres: how far beside the outermost string fields are asked for
_END = 2e-3  # metres before an end where the table stops: the fields turn too sharply there
_STEP = 4e-3  # between the heights at which tables end: another gap mostly finds the same one

Progress = Callable[[str], None]


@dataclass(frozen=True, kw_only=True, eq=False)
class SolvedBars(CoilsTogether):
    """Fields and circuit figures of long bars in one coil; the same seam as :class:`.SolvedSolid`.

    Attributes
    ----------
    field : BarField
    build : LongBuild
    section : SolvedPlane
        The endless section.
    matrix_air, matrix : arrays (1, 1)
        Inductance without and with the bars, H per turn².
    moments : array (1, 3)
        Area of a turn plus ∫ M dV per ampere, m².
    chi, chi_along : tuples of arrays
        What a signal meets in each part.
    kept : dict
        Tables of the fields and answers to strings, by the heights that they cover.
    """

    field: BarField
    build: LongBuild
    section: SolvedPlane
    matrix_air: Array
    matrix: Array
    moments: Array
    chi: tuple[Array, ...]
    chi_along: tuple[Array, ...]
    kept: dict[object, Any]

    @property
    def coils(self) -> tuple[Racetrack, ...]:
        """Of one turn, counter-clockwise."""
        return self.field.coils

    @property
    def poles(self) -> tuple[()]:
        """None: bars have no poles."""
        return ()

    def face_field(self, height: float) -> Array:
        """Of poles: none."""
        return np.zeros(0)

    def face_factors(self, height: float, materials: Materials) -> Array:
        """Of poles: none."""
        return np.ones((0, 2))

    def over(self, strings: Sequence[Over], slope: float, reach: float) -> SolvedBars:
        """The same under these strings, that rise by `slope` at the most: nothing is solved again but answers to
        heights that were not asked for before."""
        ends = min(self.build.halves)
        top = self.field.top
        ranges = _table([s if abs(s.y) <= ends else s.counted_from(top) for s in strings], slope, reach, ends - _END)
        if ranges not in self.kept:
            self.kept[ranges] = self.field.tabulate(ranges)
        places: list[Place] = []
        answers: list[LineAnswer] = []
        for s in strings:
            under = tuple(abs(s.y) <= half for half in self.build.halves)
            place = s if all(under) else s.counted_from(top)
            low, high = heights_covered([o for o in strings if o.face == s.face] if all(under) else [place], _STEP)
            key = (place.face, low, high, reach, under)
            if key not in self.kept:
                self.kept[key] = plane_answer(self.field.bars, self.chi, self.chi_along, place.face, low, high, reach,
                                              s.y)
            places.append(AnsweredPlace(y=s.y, face=place.face))
            answers.append(self.kept[key])
        return replace(self, field=self.field.with_table(self.kept[ranges]).over(places, answers))


def solve_bars(build: LongBuild, materials: Materials, *, quality: Quality,
               progress: Progress = lambda stage: None) -> SolvedBars:
    """Solve long bars in a coil.

    Parameters
    ----------
    build : LongBuild
    materials : mapping
        From the names in `build` to magnets and soft materials.
    quality : Quality

    Raises
    ------
    CaseError, SolveError, MissingLibraryError
    """
    coil = replace(build.coil, turns=1.0, sense=1)
    section = solve_plane(build.shape, (build.sides,), materials, quality=quality, progress=progress)
    parts = section.section.shape.parts
    own = tuple(body_material(materials, p.material) for p in parts)
    odd = section.half and build.shape.parity == 1
    progress("ends of the bars")
    halves = tuple(build.halves[build.shape.parts.index(p)] for p in parts)
    bars = LongBars(plane=PotentialPlane(section=section.signal.section, half=section.half,
                                         order=section.signal.lu.order), halves=halves)
    rest = [_at_rest(m, p, b) for m, p, b in zip(own, parts, section.bias_state.b, strict=True)]
    still = State(chi=[r[0] for r in rest], chi_along=[r[1] for r in rest], own=[r[2] for r in rest])
    chi = tuple(_susceptibility(nu) for nu in section.signal.reluctivity)
    along = tuple(out_of_section(m, c) for m, c in zip(own, chi, strict=True))

    def outer(points: Array) -> Array:
        b = coil_air.field(coil, points)
        b[[0, 2]] -= plane_coil.field(build.sides, points[[0, 2]])
        return b * NU0

    beside = bars.sampled(outer)
    moving = State(chi=chi, chi_along=along, own=section.answers[0].magnetisation, outer=beside)
    if odd:
        (bias,), (signal,) = bars.magnetised([still], odd=True), bars.magnetised([moving])
    else:
        bias, signal = bars.magnetised([still, moving])
    sides = [NU0 * plane_coil.field(build.sides, x) for x in section.signal.places]
    air = coil_air.inductance(coil)
    linked = MU0 * bars.linked(signal, sides, beside)
    field = BarField(bars=bars, bias_state=bias, signal=signal, coils=(coil,), weights=np.ones(1), odd=odd)
    return SolvedBars(field=field, build=build, section=section, matrix_air=np.array([[air]]),
                      matrix=np.array([[air + linked]]),
                      moments=np.array([[0.0, 0.0, mean_area(coil)]]) + bars.moment(signal),
                      chi=chi, chi_along=along, kept={})


def _table(strings: Sequence[Over], slope: float, reach: float, across: float) -> BarTable:
    """Where strings ask for fields, as far as `across`; in coarse steps, so that other gaps find the same table."""
    low, high = heights_covered(strings, _STEP)
    faces = [s.face for s in strings]
    return BarTable(reach=1.02 * reach, across=min(max(abs(s.y) for s in strings) + _MARGIN, across), slope=slope,
                    low=min(faces) + low, high=max(faces) + high)


def _at_rest(material: BodyMaterial, part: PlanePart, b: Array) -> tuple[Array, Array, Array]:
    """χ across and along, and M₀, at rest. Of steel χ is M/H: that holds exactly where the ends take the field down
    in proportion, and where steel is far from saturated nothing depends on it; of a magnet it is the slope."""
    h, slope = in_section(material, part, b, None)
    if is_magnet(material):
        chi = _susceptibility(slope)
    else:
        one = NU0 / material.reluctivity(b[0] ** 2 + b[1] ** 2)[0] - 1
        chi = np.stack([one, np.zeros_like(one), one])
    return chi, out_of_section(material, chi), b * NU0 - h


def _susceptibility(nu: Array) -> Array:
    """χ of the reluctivity ν (3, …): xx, xz, zz."""
    xx, xz, zz = nu
    det = xx * zz - xz * xz
    return np.stack([NU0 * zz / det - 1, -NU0 * xz / det, NU0 * xx / det - 1])
