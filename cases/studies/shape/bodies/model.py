"""Goals of a body's shape and their slopes, on one mesh of the build that follows it.

Where goals are of S and of volumes alone they and their slopes come from the adjoint
(:mod:`stringflux.postprocess.shape.build_problem`): one pass back, however many lengths there are. Else slopes come
from differences to one side on the same moved mesh, as a row's do for forms without an adjoint. Strings stay where
they are. The search goes by S of each string alone on the curve of its steel. Unevenness is of S as it is told: of
that, times what memory and the other strings make of it where the mesh was made, which hardly changes with the shape
and is taken anew with every mesh.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import PlacedString, placed_strings
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.symmetry import Symmetry
from stringflux.postprocess.shape.build_problem import BuildProblem, BuildSolution, build_problem, can_follow_build
from stringflux.postprocess.string.heard import heard_slopes
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import band_over_heights
from stringflux.postprocess.string.neighbours import StringsTogether
from stringflux.solver.materials import Materials
from stringflux.solver.seam import Over
from stringflux.solver.shape.following_mesh import FoldedMeshError
from stringflux.solver.shape.following_solid import FollowingSolid
from stringflux.solver.solid.halves import halving, magnetic
from stringflux.solver.solid.solve import SolvedSolid, solve_solid
from stringflux.solver.solid.space import solid_space

from ....solved.materials import case_materials
from ....solved.numerics import SHIPPED, Numerics
from ....solved.solve_build import connected_turns
from ....solved.solve_row import one_thread
from ..goals import OF_STRINGS, levels, of_strings, unevenness
from ..levelled import Levelled
from .form import BodyForm

STEP = 10e-6  # between shapes whose difference is a slope, m
_NEAR = 1e-6  # between shapes whose nodes tell how these go along, m
_TRACED = {"output", "unevenness", "magnet"}


@dataclass(frozen=True, kw_only=True, eq=False)
class BodyModel:
    """A case one of whose bodies takes a form, on the mesh of the form at `base`.

    Attributes
    ----------
    case : Case
    form : BodyForm
    quality : str
    base : array (n,)
        Lengths at which the mesh is made, m.
    goals : tuple of str
        Names in `GOALS`.
    numerics : Numerics
    adjoint : bool
        Whether to use the adjoint where it offers all goals.
    """

    case: Case
    form: BodyForm
    quality: str
    base: Array
    goals: tuple[str, ...]
    numerics: Numerics = SHIPPED
    adjoint: bool = True
    counts: dict[str, int] = field(default_factory=lambda: {"solves": 0, "adjoints": 0})
    known: dict[tuple[bytes, bytes], tuple[dict[str, float], Array]] = field(default_factory=dict)
    newest: dict[bytes, BuildSolution] = field(default_factory=dict)  # one at the most, on this mesh

    def rebased(self, base: Array) -> BodyModel:
        """The same with its mesh made anew."""
        return replace(self, base=np.asarray(base, float).copy(), newest={})

    @cached_property
    def materials(self) -> Materials:
        return case_materials(self.case)

    @cached_property
    def strings(self) -> tuple[PlacedString, ...]:
        """Those of the case, where they are, whatever the body becomes."""
        return placed_strings(self.case)

    def bodies(self, p: Array) -> tuple[SolidBody, ...]:
        """The magnetic bodies at p.

        Raises
        ------
        FoldedMeshError
            When there can be no such body: not so far from where the mesh was made.
        """
        try:
            return magnetic(self.form.made(p).solid_bodies(), self.materials)
        except CaseError as error:
            raise FoldedMeshError(str(error)) from error

    def solved(self, p: Array) -> SolvedSolid:
        """The solved build of a shape under the strings.

        Raises
        ------
        FoldedMeshError
            When the mesh of the base cannot follow so far.
        """
        with one_thread():
            return self._bare(p).over(self._over, self.materials, self.numerics.section_mesh(self.quality),
                                      self.numerics.string.reach, self.numerics.row, apart=True)

    def _bare(self, p: Array) -> SolvedSolid:
        self.counts["solves"] += 1
        bodies = self.bodies(p)
        with one_thread():
            space = solid_space(self._following.moved(bodies))
            found = solve_solid(bodies, self.case.racetracks(), self.materials, quality=self._following.quality,
                                history=self.case.history, space=space)
            return found.connected(connected_turns(self.case, found.matrix))

    def values(self, p: Array) -> dict[str, float]:
        """Goals at p, SI."""
        return dict(self._both(p)[0])

    def _both(self, p: Array) -> tuple[dict[str, float], Array]:
        """Goals, and S of every string with memory if unevenness is among them."""
        key = (self.base.tobytes(), np.asarray(p, float).tobytes())
        if key not in self.known:
            self.known[key] = self._solved(p)
        return self.known[key]

    def _solved(self, p: Array) -> tuple[dict[str, float], Array]:
        if self.traced:
            return self._traced(p)
        found, heard = self.solved(p), np.zeros(0)
        names = [n for n in self.goals if n != "unevenness"]
        over = self.strings if OF_STRINGS & set(names) else ()
        out = of_strings([found.field] * len(over), over, self.case, self.materials, names, self.numerics.string,
                         curve=True)
        if "unevenness" in self.goals:
            heard = self._slopes(found, curve=True) * self._memory(found, p)
            out["unevenness"] = unevenness(heard, self.strings)
        if "inductance" in self.goals:
            out["inductance"] = abs(found.inductance)
        if "magnet" in self.goals:
            out["magnet"] = self.form.volume(p)
        return {n: out[n] for n in self.goals}, heard

    def values_and_slopes(self, p: Array) -> tuple[dict[str, float], dict[str, Array]]:
        """Goals at p and ∂/∂p (n,), SI."""
        values, heard = self._both(p)
        if self.traced:
            return dict(values), self._traced_slopes(p, heard)
        slopes, by_length = self._differences(p)
        if by_length.size:  # a root of squares has a corner at nothing: its slope is that of what stands under it
            slopes["unevenness"] = balanced_slope(heard, by_length, self.strings)
        return dict(values), slopes

    @property
    def levelled(self) -> Levelled | None:
        """The strings' levels and their slopes, where their unevenness is the one goal."""
        return Levelled(levels=self.levels, slopes=self.level_slopes) if self.goals == ("unevenness",) else None

    def levels(self, p: Array) -> Array:
        """Of every string at p, from their mean (strings,), dB."""
        return levels(self._both(p)[1], self.strings)

    def level_slopes(self, p: Array) -> Array:
        """∂/∂p of those (strings, n), dB/m."""
        heard = self._both(p)[1]
        if not self.traced:
            return level_slopes(heard, self._differences(p)[1])
        self.counts["adjoints"] += 1
        return level_slopes(heard, self._back(p, np.diag(self._memory(None, p))))

    def _differences(self, p: Array) -> tuple[dict[str, Array], Array]:
        """∂/∂p (n,) of all goals and of S of every string with memory (strings, n), from differences to one side."""
        values, heard = self._both(p)
        slopes, by_length = {n: np.zeros(p.size) for n in self.goals}, np.zeros((heard.size, p.size))
        for j in range(p.size):
            beside, step = self._beside(p, j, STEP)
            other, louder = self._both(beside)
            for n in self.goals:
                slopes[n][j] = (other[n] - values[n]) / step
            by_length[:, j] = (louder - heard) / step
        return slopes, by_length

    def _beside(self, p: Array, j: int, step: float) -> tuple[Array, float]:
        """p with length j a step further, or back where there is no room, and that step."""
        step = step if p[j] + step <= self.form.high[j] else -step
        return p + step * (np.arange(p.size) == j), step

    @property
    def traced(self) -> bool:
        """Whether goals and slopes come from the adjoint."""
        goals = set(self.goals)
        connected = len(self.case.coils()) == 1 or self.case.connection.coils == "series"  # whatever the inductances
        return (self.adjoint and connected and goals <= _TRACED and goals != {"magnet"}
                and can_follow_build(self.case.history, self.numerics.string))

    def _traced(self, p: Array) -> tuple[dict[str, float], Array]:
        """Goals at p, and S of every string with memory if unevenness is among them."""
        memory = self._memory(None, p) if "unevenness" in self.goals else np.zeros(0)  # first: it may be of another p
        S, heard, out = self._on_curve(p), np.zeros(0), dict[str, float]()
        out["output"] = float(S.mean())
        if "unevenness" in self.goals:
            heard = S * memory
            out["unevenness"] = unevenness(heard, self.strings)
        if "magnet" in self.goals:
            out["magnet"] = self.form.volume(p)
        return {n: out[n] for n in self.goals}, heard

    def _traced_slopes(self, p: Array, heard: Array) -> dict[str, Array]:
        self.counts["adjoints"] += 1
        count, out = len(self.strings), dict[str, Array]()
        weights = {"output": np.full(count, 1 / count)}
        if heard.size:
            weights["unevenness"] = balanced_slope(heard, np.eye(count), self.strings) * self._memory(None, p)
        if "magnet" in self.goals:
            sides = [self._beside(p, j, _NEAR) for j in range(p.size)]
            out["magnet"] = np.array([(self.form.volume(b) - self.form.volume(p)) / step for b, step in sides])
        names = [n for n in self.goals if n != "magnet"]
        out |= dict(zip(names, self._back(p, np.stack([weights[n] for n in names])), strict=True))
        return {n: out[n] for n in self.goals}

    def _back(self, p: Array, weights: Array) -> Array:
        """∂/∂p (k, n) of sums of S on the curve with weights (k, strings): one pass back for each."""
        design, ways = self._design(p), []
        for j in range(p.size):
            beside, step = self._beside(p, j, _NEAR)
            ways.append((self._following.nodes(self.bodies(beside)) - design.state.nodes) / step)
        out = np.zeros((len(weights), p.size))
        with one_thread():
            for i, row in enumerate(weights):
                by_node = self._problem.gradient(design, {f"S_{k + 1}": float(w) for k, w in enumerate(row) if w})
                out[i] = [np.sum(by_node * way) for way in ways]
        return out

    def _on_curve(self, p: Array) -> Array:
        """S of every string without memory (strings,), V·s/m."""
        values = self._design(p).values
        return np.array([values[f"S_{i}"] for i in range(1, len(self.strings) + 1)])

    def _design(self, p: Array) -> BuildSolution:
        """The design of the adjoint at p; the newest is kept."""
        key = np.asarray(p, float).tobytes()
        if key not in self.newest:
            bodies = self.bodies(p)
            self._following.moved(bodies)  # refuses what is too far
            self.newest.clear()
            with one_thread():
                self.newest[key] = self._problem.solve(self._following.nodes(bodies))
            self.counts["solves"] += 1
        return self.newest[key]

    @cached_property
    def _problem(self) -> BuildProblem:
        shapes = [replace(s.shape, state="curve") for s in self.strings]
        with one_thread():
            return build_problem(self._bare(self.base), self.materials, shapes,
                                 [layers_of(s, self.materials) for s in shapes], [o.face for o in self._over],
                                 numerics=self.numerics.string)

    def _slopes(self, found: SolvedSolid, *, curve: bool) -> Array:
        """|S| of every string (strings,), V·s/m, on the curve and alone, or with memory and among the others."""
        out, numerics = [], self.numerics.string
        among = StringsTogether(found.field, [s.shape for s in self.strings], self.materials, numerics)
        for s in self.strings:
            shape = replace(s.shape, state="curve") if curve else s.shape
            field = found.field if curve else among.over(s.number)
            out.append(abs(heard_slopes(field, shape, layers_of(shape, self.materials), numerics).z))
        return np.array(out)

    def _memory(self, found: SolvedSolid | None, p: Array) -> Array:
        """What memory and the other strings make of S of every string, where the mesh was made."""
        key = (self.base.tobytes(), b"memory")
        if key not in self.known:
            there = found if found is not None and np.array_equal(p, self.base) else self.solved(self.base)
            curve = self._on_curve(self.base) if self.traced else self._slopes(there, curve=True)
            self.known[key] = {}, self._slopes(there, curve=False) / curve
        return self.known[key][1]

    @cached_property
    def _over(self) -> tuple[Over, ...]:
        """Every string and the heights it may come to over the highest that the body can be under it."""
        highest = np.max([[s.face.height for s in placed_strings(self.form.made(p))]
                          for p in (self.form.start, self.form.high, self.form.low) if self._possible(p)], axis=0)
        out = []
        for s, face in zip(self.strings, np.maximum(highest, [s.face.height for s in self.strings]), strict=True):
            low, high = band_over_heights([s.shape], [float(face)])
            out.append(Over(y=s.y, face=float(face), low=round(low - face, 9), high=round(high - face, 9)))
        return tuple(out)

    def _possible(self, p: Array) -> bool:
        try:
            self.form.made(p)
        except CaseError:
            return False
        return True

    @cached_property
    def _following(self) -> FollowingSolid:
        return FollowingSolid(bodies=self.bodies(self.base), quality=self.numerics.solid_mesh(self.quality),
                              symmetry=self._symmetry)

    @cached_property
    def _symmetry(self) -> Symmetry:
        """The planes that halve the build with any of the form's bodies."""
        found = []
        span = self.form.high - self.form.low
        for j in range(len(span) + 1):  # every length by itself, and all of them as at the base
            bodies = self.bodies(self.base + self._aside(j) * span)
            found.append(halving(bodies, self.case.racetracks(), self.materials, self.case.history))
        return Symmetry(x=all(s.x for s in found), y=all(s.y for s in found))

    def _aside(self, j: int) -> Array:
        """A little of its range for length j, into it."""
        inward = np.where(self.base > (self.form.low + self.form.high) / 2, -1.0, 1.0)
        return np.asarray(0.01 * inward * (np.arange(inward.size) == j))


def level_slopes(heard: Array, by_length: Array) -> Array:
    """Of the levels (strings, n), dB, from S (strings,) and its slopes (strings, n)."""
    each = 20 / np.log(10) * by_length / heard[:, None]
    return np.asarray(each - each.mean(axis=0))


def balanced_slope(heard: Array, by_length: Array, strings: Sequence[PlacedString]) -> Array:
    """Of unevenness (n,), from S (strings,) and its slopes (strings, n)."""
    level = levels(heard, strings)
    size = float(np.sqrt(np.mean(level**2)))
    return np.asarray(level @ level_slopes(heard, by_length) / (level.size * max(size, 1e-12)))
