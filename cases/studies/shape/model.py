"""Goals of a shape and their slopes, on one mesh that follows the shape.

Slopes of a free profile come from the adjoint where it offers the goal (:mod:`stringflux.postprocess.shape.problem`),
else, and for the few lengths of the other forms, from differences to one side on the same moved mesh: half as many
solves as to both, and good to half a percent, which moves a best by less than a lathe can.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from hashlib import blake2b
from typing import Any, TypeVar

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes.row import PlacedPole, PoleShape
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import band_over_heights
from stringflux.solver.materials import Materials
from stringflux.solver.row.field import RowField
from stringflux.solver.row.solve import SolvedRow, solve_row
from stringflux.solver.section.space import Section, section_from_mesh
from stringflux.solver.shape.following_mesh import FoldedMeshError, FollowingMesh
from stringflux.solver.stages import Keep, made_anew

from ...kept.store import Store
from ...solved.materials import case_materials
from ...solved.numerics import SHIPPED, Numerics
from .forms import Form
from .goals import GOALS, figures_of, strings_over

T = TypeVar("T")
STEP = 10e-6  # between shapes whose difference is a slope, m
MOST_KEPT = 64  # point sets for which the coil's field is remembered; a row of twelve asks for some 24
_APART = 1e-13  # m
ABOVE = 3e-3  # how far above the strings the fields are tabulated, for outputs against the gap, m


@dataclass(frozen=True, kw_only=True, eq=False)
class KeptCoil(RowField):
    """Fields of a row whose coil's own field is remembered: the strings stay where they are, whatever the shape."""

    kept: dict[bytes, Array]

    def of_coil(self, points: Array) -> Array:
        """B of the coil in air, T/A (3, n)."""
        key = blake2b(np.ascontiguousarray(points).tobytes(), digest_size=16).digest()
        if key not in self.kept:
            if len(self.kept) >= MOST_KEPT:
                self.kept.pop(next(iter(self.kept)))
            self.kept[key] = super().of_coil(points)
        return self.kept[key]


@dataclass(frozen=True, kw_only=True, eq=False)
class ShapeModel:
    """A case whose `poles` take a form, on the mesh of the form at `base`.

    Attributes
    ----------
    case : Case
    form : Form
    poles : tuple of int
        Numbers of the poles that change together.
    quality : str
    base : array (n,)
        Lengths at which the mesh was made, m.
    goals : tuple of str
        Names in `GOALS`.
    adjoint : bool
        Whether to use the adjoint where it offers a goal.
    numerics : Numerics
        Of the rows and strings.
    """

    case: Case
    form: Form
    poles: tuple[int, ...]
    quality: str
    base: Array
    goals: tuple[str, ...]
    adjoint: bool = True
    numerics: Numerics = SHIPPED
    counts: dict[str, int] = field(default_factory=lambda: {"solves": 0, "adjoints": 0})
    store: Keep = field(default_factory=lambda: Store(None))  # of the poles that do not change
    coil_fields: dict[bytes, Array] = field(default_factory=dict)
    known: dict[tuple[object, ...], dict[str, float]] = field(default_factory=dict)  # by mesh, shape and goals

    @property
    def levelled(self) -> None:
        """Poles that change together stay alike: their strings are not brought to one level."""

    def rebased(self, base: Array) -> ShapeModel:
        """The same with its mesh made anew."""
        return replace(self, base=np.asarray(base, float).copy())

    @cached_property
    def materials(self) -> Materials:
        found = case_materials(self.case)
        from stringflux.solver.materials import at_temperature, find_material

        for part in self.form.shape(self.base).parts:  # a cap's steel may be new to the case
            found.setdefault(part.material,
                             at_temperature(find_material(part.material, {}), self.case.conditions.temperature))
        return found

    def row(self, p: Array) -> SolvedRow:
        """The solved row of a shape.

        Raises
        ------
        FoldedMeshError
            When the mesh of the base cannot follow so far.
        """
        self.counts["solves"] += 1
        shape = self.shape(p)
        found = solved(self.case, self.places(shape), self.materials, self.quality,
                       {shape: section_from_mesh(shape, self._following.moved(shape))}, self.store, self.numerics)
        return replace(found, field=KeptCoil(**vars(found.field), kept=self.coil_fields))

    def shape(self, p: Array) -> PoleShape:
        """The form's pole at p, never the same as one that does not change: those are told apart by their shapes."""
        shape = self.form.shape(p)
        if len(self.poles) == len(self.case.placed_poles()):
            return shape
        *upper, last = shape.parts
        low = last.bottom
        outline = tuple((r, z - _APART if z == low else z) for r, z in last.outline)
        return PoleShape(parts=(*upper, replace(last, outline=outline)))

    def places(self, shape: PoleShape) -> tuple[PlacedPole, ...]:
        """The case's row with the shape in it."""
        return tuple(replace(place, shape=shape) if n in self.poles else place
                     for n, place in enumerate(self.case.placed_poles(), start=1))

    def values(self, p: Array, names: Sequence[str] | None = None) -> dict[str, float]:
        """Goals at p, SI."""
        names = self.goals if names is None else names
        key = (self.base.tobytes(), np.asarray(p, float).tobytes(), tuple(names))
        if key not in self.known:
            self.known[key] = self._solved(p, names)
        return dict(self.known[key])

    def _solved(self, p: Array, names: Sequence[str]) -> dict[str, float]:
        ours = self._of_adjoint(names)
        out = figures_of(self.row(p), self.case, self.materials, self.poles, [n for n in names if n not in ours],
                         self.numerics.string, curve=True) if set(names) - set(ours) else {}
        if ours:
            got = _followed(lambda: self._problem.value(self._displacement(p)))
            out |= {n: float(got[GOALS[n].adjoint]) for n in ours}
        return {n: out[n] for n in names}

    def values_and_slopes(self, p: Array) -> tuple[dict[str, float], dict[str, Array]]:
        """Goals at p and ∂/∂p (n,), SI."""
        ours = self._of_adjoint(self.goals)
        rest = [n for n in self.goals if n not in ours]
        values = self.values(p, rest) if rest else {}
        slopes = {n: np.zeros(p.size) for n in rest}
        for j in range(p.size) if rest else ():
            step = STEP if p[j] + STEP <= self.form.high[j] else -STEP
            beside = self.values(p + step * (np.arange(p.size) == j), rest)
            for n in rest:
                slopes[n][j] = (beside[n] - values[n]) / step
        if ours:
            self.counts["adjoints"] += 1
            keys = tuple(GOALS[n].adjoint for n in ours)
            got, by_point = _followed(lambda: self._problem.value_and_gradient(self._displacement(p), keys))
            for n, key in zip(ours, keys, strict=True):
                values[n] = float(got[key])
                slopes[n] = by_point[key] @ self._curve.heights
        return values, slopes

    def _of_adjoint(self, names: Sequence[str]) -> list[str]:
        from stringflux.postprocess.shape.problem import can_follow

        use = (self.adjoint and self.form.curve is not None
               and can_follow(self.numerics.row, self.numerics.string))
        return [n for n in names if use and GOALS[n].adjoint]

    @property
    def _curve(self) -> Any:
        return self.form.curve

    def _displacement(self, p: Array) -> Array:
        """How far every point of the edge stands over where it was meshed, m."""
        return np.asarray(self._curve.heights @ (p - self.base))

    @cached_property
    def _following(self) -> FollowingMesh:
        return FollowingMesh(shape=self.shape(self.base), quality=self.numerics.section_mesh(self.quality))

    @cached_property
    def _problem(self) -> Any:
        from stringflux.postprocess.shape.problem import shape_problem
        from stringflux.solver.shape.morph import profile_morph

        shape = self.shape(self.base)
        strings = [s.shape for s in strings_over(self.case, self.poles)]
        quality = self.numerics.section_mesh(self.quality)
        return shape_problem(
            self.places(shape), self.case.racetrack(), self.materials, strings,
            [layers_of(s, self.materials) for s in strings], history=self.case.history, quality=quality,
            morph=profile_morph(shape, quality, self._curve.radii, basis="linear"),
            row_numerics=self.numerics.row, string_numerics=self.numerics.string)


def _followed(compute: Callable[[], T]) -> T:
    """A mesh that refuses, said in the same way whichever mesh it is."""
    try:
        return compute()
    except CaseError as error:
        raise FoldedMeshError(str(error)) from error


def solved(case: Case, places: Sequence[PlacedPole], materials: Materials, quality: str,
           sections: dict[PoleShape, Section], keep: Keep = made_anew,
           numerics: Numerics = SHIPPED) -> SolvedRow:
    """The row of a case with other poles in its places, its strings where they are."""
    strings = placed_strings(case)
    low, high = band_over_heights([s.shape for s in strings], [s.face.height for s in strings])
    floors = [min([band_over_heights([s.shape], [s.face.height])[0] for s in strings if s.pole == n],
                  default=p.face + 1e-3) for n, p in enumerate(places, start=1)]
    high = math.ceil((high + ABOVE) / 2e-3) * 2e-3
    return solve_row(places, case.racetrack(), materials, quality=numerics.section_mesh(quality),
                     history=case.history, band=(min(low, *floors), high), floors=floors, sections=sections,
                     keep=keep, reach=numerics.string.reach, numerics=numerics.row)
