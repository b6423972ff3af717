r"""Levels and pulls of a case at a setting, and how each goes with the string's own gap.

Exact values come from the row solved at that setting. The curve of a string is taken in one solved row that stays
as it is while the string moves: λ on the steel's curve at Chebyshev heights z, f as the steel's memory has it
(:mod:`stringflux.postprocess.string.heard`), then

    S = f dλ/dz,    level(z) = 20 log10 |S|,    d level/dz = 20/ln 10 · (dS/dz)/S         dB, dB/m

so that level and derivative belong to one smooth function. The pull's shifts of the fundamental go through their
values at a few heights.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

import numpy as np
from numpy.polynomial import Chebyshev

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import PlacedString, placed_strings
from stringflux.geometry.case.rows import PoleRow
from stringflux.geometry.errors import CaseError
from stringflux.postprocess.plucked.modes import Damping, Pluck
from stringflux.postprocess.plucked.sensed import sensed_string
from stringflux.postprocess.string.heard import factor_over_heights, heard_pull, heard_slopes
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.line_fields import Span
from stringflux.postprocess.string.linkage import CLEARANCE, MAP_REACH, STEP
from stringflux.postprocess.string.model import StringModel, string_model
from stringflux.postprocess.string.neighbours import StringsTogether
from stringflux.postprocess.string.pull import stiffness_over_heights
from stringflux.solver.interpolation import chebyshev
from stringflux.solver.seam import Solved

from ...jobs.plucked import bridge_distance, vibrating_string, vibration_of
from ...kept.store import memory
from ...solved.materials import case_materials
from ...solved.numerics import SHIPPED, Numerics
from ...solved.solve import solved_case
from .moving_row import lift
from .setting import moved_case

T = TypeVar("T")
DECIBEL = 20 / math.log(10)
HEIGHTS, PULL_HEIGHTS = 12, 7  # a half more of either moves a curve by under 0.001 dB, or 0.1 % of the pull
_LOW, _HIGH = MAP_REACH - 0.3e-3, 1e-3  # how far under and over its place a string's fields are tabulated, m


@dataclass(frozen=True, kw_only=True, eq=False)
class Measured:
    """Levels (n,) in dB over 1 V·s/m or 1 V, and shifts of the fundamentals across and up (n, 2) in cent or None."""

    level: Array
    cents: Array | None = None

    @property
    def pull(self) -> Array | None:
        """Largest shift of each string either way, cent (n,)."""
        return None if self.cents is None else np.asarray(np.max(np.abs(self.cents), axis=1))


@dataclass(frozen=True, kw_only=True, eq=False)
class Curve:
    """One string's level (dB), its slope (dB/m) and its pull (cent, either way) over gaps `low` … `high` (m)."""

    low: float
    high: float
    level: Callable[[float], float]
    slope: Callable[[float], float]
    pull: Callable[[float], float] | None = None


class Plant(Protocol):
    """Whatever answers to settings: a pickup, or a formula in its place."""

    def measure(self, faces: Array, lows: Array) -> Measured:
        """Exact levels with the poles' faces (p,) and the strings' undersides (n,) at these heights, m."""

    def curves(self, faces: Array, lows: Array) -> Sequence[Curve]:
        """A curve for every string about that setting."""


class CasePlant:
    """A case as a plant.

    Parameters
    ----------
    data, case : mapping, Case
        The file's content with the changes of the command line, and the case it makes.
    measure : {"sensitivity", "output"}
    pull : bool
        Whether pulls are asked for.
    quality : str
    higher : float
        How far strings may come away from the poles, m.
    pluck : Pluck
        Of the output.
    row : PoleRow, optional
        Of a build the row whose poles move, if any.
    stage : callable
        Told what is going on.
    numerics : Numerics
    """

    def __init__(self, data: Mapping[str, Any], case: Case, *, measure: str, pull: bool, quality: str, higher: float,
                 pluck: Pluck, row: PoleRow | None = None, stage: Callable[[str], None] = lambda name: None,
                 numerics: Numerics = SHIPPED) -> None:
        self._data, self._case, self._quality, self._stage = data, case, quality, stage
        self._numerics = numerics
        self._output, self._pull, self._higher, self._pluck = measure == "output", pull, higher, pluck
        self._materials = case_materials(case)
        self._kept = memory()
        self._moving = case.rows()[0] if case.is_plain_row else row
        self._row: tuple[Array, Array, Solved] | None = None
        self._distance = bridge_distance(case) if pull or self._output else 0.0
        self._softer: dict[int, tuple[float, float]] = {}  # by what was measured last

    def measure(self, faces: Array, lows: Array) -> Measured:
        strings, row = self._set(faces, lows)
        among = self._among(strings, row)
        levels, cents = np.empty(len(strings)), np.empty((len(strings), 2))
        for i, string in enumerate(strings):
            self._stage(f"string {string.number} of {len(strings)}")
            shape, vibration = string.shape, vibration_of(string, self._distance)
            layers = layers_of(shape, self._materials)
            field = among.over(string.number)
            slopes = heard_slopes(field, shape, layers)
            if not slopes.heard:
                raise CaseError(f"string {string.number}: its coil does not hear it move up and down, so it has no "
                                "level to balance; move it nearer to one pole")
            if self._output:
                plucked = vibrating_string(string, self._materials, Damping())
                sensed = sensed_string(field, shape, layers, plucked, self._distance,
                                       numerics=self._numerics.string)
                levels[i] = DECIBEL * math.log(sensed.play(self._pluck, name=f"string {string.number}").rms)
                cents[i] = [_cents(vibration.shift(k)) for k in sensed.springs]
                continue
            levels[i] = DECIBEL * math.log(abs(slopes.z))
            if self._pull:
                pull = heard_pull(field, shape, layers)
                self._softer[i] = pull.softer
                cents[i] = [_cents(vibration.shift(k)) for k in (pull.stiffness_y, pull.stiffness_z)]
        return Measured(level=levels, cents=cents if self._pull else None)

    def curves(self, faces: Array, lows: Array) -> list[Curve]:
        strings, row = self._set(faces, lows)
        moving, among = self._moving, self._among(strings, row)
        if moving is None:
            return [self._curve(string, among, float(face), float(face))
                    for string, face in zip(strings, faces, strict=True)]
        own = faces[[moving.nearest(string.y) for string in strings]] - lift(self._case, moving)
        highest = np.maximum(own, self._others(strings))
        return [self._curve(string, among, float(own[i]), float(highest[i])) for i, string in enumerate(strings)]

    def _among(self, strings: Sequence[PlacedString], row: Solved) -> StringsTogether:
        return StringsTogether(row.field, [s.shape for s in strings], self._materials, self._numerics.string)

    def _others(self, strings: Sequence[PlacedString]) -> Array:
        """The highest face of the poles of other rows under each string, as if it stood at x = 0, m."""
        out = np.full(len(strings), -math.inf)
        for other in self._case.rows():
            if self._moving is not None and other.before != self._moving.before:
                faces = [other.face_under(string.y).height for string in strings]
                out = np.maximum(out, np.array(faces) - lift(self._case, other))
        return out

    def _set(self, faces: Array, lows: Array) -> tuple[tuple[PlacedString, ...], Solved]:
        """Strings and row at a setting; the row, or the build, stays the same one while only strings move, within
        its tables."""
        case = moved_case(self._data, self._case, faces.tolist(), lows.tolist(), self._moving)
        if self._row is not None:
            solved, under, kept = self._row
            down, up = np.max(under - lows), np.max(lows - under)
            # the map of a plucked string reaches as far down as the tables of the place it was solved at
            lowest = 0.0 if self._output else _LOW
            if np.max(np.abs(solved - faces)) < 1e-9 and down <= lowest and up <= self._higher:
                return placed_strings(case), kept
        row = solved_case(case, self._quality, keep=self._kept, numerics=self._numerics).solution(
            self._higher, self._stage)
        self._row = (np.array(faces), np.array(lows), row)
        return placed_strings(case), row

    def _curve(self, string: PlacedString, among: StringsTogether, face: float, highest: float) -> Curve:
        """Over `face`, the others where they are, as far down as over the `highest` face of any row there, m."""
        self._stage(f"string {string.number} over its gap")
        shape, field = string.shape, among.over(string.number)
        z = shape.axis_height
        under = string.axis_on(face)
        low = min(max(z - _LOW, string.axis_on(highest) + CLEARANCE + STEP), z)
        high = z + self._higher + _HIGH
        room = shape.outer_radius + 1.5 * STEP
        span = Span(y=(shape.y - room, shape.y + room), z=(low - room, high + room), nz=14)
        model = string_model(field, shape, layers_of(shape, self._materials), span, self._numerics.string)
        at = chebyshev(low, high, HEIGHTS)
        linkage = model.at(np.full(HEIGHTS, shape.y), at).linkage
        curve = Chebyshev.fit(at - under, linkage, HEIGHTS - 1, domain=[low - under, high - under]).deriv()
        f = factor_over_heights(field, shape, model.layers, low, high)
        first = curve * Chebyshev(f.coef, domain=curve.domain)
        second = first.deriv()
        return Curve(
            low=low - under, high=high - under, level=lambda gap: DECIBEL * math.log(abs(first(gap))),
            slope=lambda gap: DECIBEL * float(second(gap) / first(gap)),
            pull=self._pull_curve(string, model, low, high, under) if self._pull else None,
        )

    def _pull_curve(self, string: PlacedString, model: StringModel, low: float, high: float,
                    under: float) -> Callable[[float], float]:
        at = chebyshev(low, high, PULL_HEIGHTS)
        vibration = vibration_of(string, self._distance)
        domain = [low - under, high - under]
        softer = np.array(self._softer.get(string.number - 1, (1.0, 1.0)))[:, None]
        across, up = (
            Chebyshev.fit(at - under, [_cents(vibration.shift(float(v))) for v in k], PULL_HEIGHTS - 1, domain=domain)
            for k in softer * stiffness_over_heights(model, at))
        return lambda gap: max(abs(float(across(gap))), abs(float(up(gap))))


def _cents(shift: float) -> float:
    return 1200 * math.log2(1 + shift)
