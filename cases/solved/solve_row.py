"""The row of a case: what its solution depends on, and the solution."""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from threadpoolctl import ThreadpoolController

from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import needed_strings
from stringflux.geometry.mesh.pole import Quality, section_mesh
from stringflux.geometry.reading.check_strings import LEAST_GAP
from stringflux.geometry.shapes.row import PlacedPole, Racetrack
from stringflux.postprocess.string.linkage import CLEARANCE, LOWEST, band_over_heights
from stringflux.solver.materials import Material, Materials
from stringflux.solver.row.nearby import Nearby
from stringflux.solver.row.numerics import RowNumerics
from stringflux.solver.row.solve import SolvedRow, solve_row
from stringflux.solver.section.space import forget_sections
from stringflux.solver.stages import Keep, made_anew

from ..files.load import refuse_builds
from .numerics import SHIPPED, Numerics

_CLOSE, _WIDE = 0.83e-3, 3e-3  # m: strings are close under this gap, over wider faces than that in proportion
_STEP = 4e-3  # m, between the heights at which tables end


@dataclass(frozen=True, kw_only=True)
class RowInputs:
    """All that a row's solution depends on, strings only by the heights at which they need the fields.

    Attributes
    ----------
    places : tuple of PlacedPole
    coil : Racetrack
        Of one turn, counter-clockwise.
    materials : tuple of (str, material)
        Of the poles, by name.
    quality : Quality
    history : {"before", "after"}
    band : (float, float)
    floors : tuple of float
        See :func:`stringflux.solver.row.solve.solve_row`.
    reach : float
        Half the length of the strings, m.
    numerics : RowNumerics
    """

    places: tuple[PlacedPole, ...]
    coil: Racetrack
    materials: tuple[tuple[str, Material], ...]
    quality: Quality
    history: str
    band: tuple[float, float]
    floors: tuple[float, ...]
    reach: float
    numerics: RowNumerics


def row_inputs(case: Case, quality: str, materials: Materials, above: float = 0.0,
               numerics: Numerics = SHIPPED) -> RowInputs:
    """What is upstream of a case's strings; fields are tabulated `above` m higher than maps of ± 2 mm need.

    Raises
    ------
    CaseError
        If the case is more than one row of poles in one coil.
    """
    refuse_builds(case)
    places, strings, coil = case.placed_poles(), needed_strings(case), case.racetrack()
    high = band_over_heights([s.shape for s in strings], [s.face.height for s in strings])[1]
    least = [min((s.gap for s in strings if s.pole == n), default=math.inf) for n in range(1, len(places) + 1)]
    floors = tuple(p.face + _level(gap, p.radius) for p, gap in zip(places, least, strict=True))
    band = (min(floors), math.ceil(round((high + above) / _STEP, 6)) * _STEP)
    used = {part.material for place in places for part in place.shape.parts}
    return RowInputs(places=places, coil=replace(coil, turns=1.0, sense=1), history=case.history,
                     quality=numerics.section_mesh(quality),
                     materials=tuple((name, materials[name]) for name in sorted(used)), band=band, floors=floors,
                     reach=numerics.string.reach, numerics=numerics.row)


def solve_inputs(inputs: RowInputs, progress: Callable[[str], None] = lambda stage: None,
                 keep: Keep = made_anew) -> SolvedRow:
    """Solve a row in a coil of one turn.

    It and its stages are asked of `keep`: a case that differs only in its strings or its turns solves nothing again.
    """
    return keep("solved row", inputs, lambda: _solved(inputs, progress, keep))


def solve_inputs_near(inputs: RowInputs, near: Nearby, progress: Callable[[str], None] = lambda stage: None,
                      keep: Keep = made_anew) -> SolvedRow:
    """An estimate of the same by a row that differs little; it is not kept."""
    return _solved(inputs, progress, keep, near)


def _solved(inputs: RowInputs, progress: Callable[[str], None], keep: Keep, near: Nearby | None = None) -> SolvedRow:
    with one_thread():
        return solve_row(inputs.places, inputs.coil, dict(inputs.materials), quality=inputs.quality,
                         history=inputs.history, band=inputs.band, floors=inputs.floors, progress=progress,
                         keep=keep, reach=inputs.reach, numerics=inputs.numerics, near=near)


def _level(gap: float, radius: float) -> float:
    """How far over a face a table begins that serves strings `gap` m over it at rest: as low as maps ever go, so that
    another gap finds the same table, or as low as the least gap needs, for all that are close over so wide a face."""
    if gap >= _CLOSE * max(1.0, radius / _WIDE):
        return CLEARANCE
    return LOWEST if gap >= LEAST_GAP - 1e-9 else math.floor(round((gap - 0.1e-3) / 0.1e-3, 6)) * 0.1e-3


@lru_cache
def _threads() -> ThreadpoolController:
    return ThreadpoolController()  # looks for the libraries once


def one_thread() -> AbstractContextManager[Any]:
    """BLAS on one thread: with more, the many small solves get in each other's way (two to three times slower)."""
    limit: AbstractContextManager[Any] = _threads().limit(limits=1, user_api="blas")
    return limit


def forget_meshes() -> None:
    """Drop the meshes of poles and what is assembled on them, so that the next case is computed from nothing."""
    forget_sections()
    section_mesh.cache_clear()
