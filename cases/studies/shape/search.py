"""The search for a shape: a mesh that follows within a round, made anew between rounds.

A round is one search (:mod:`.methods`) on one mesh, where goals are smooth. Then the shape found is meshed anew;
what that changes is kept for the report, and the next round starts there. It ends when a round gains less than
the settings' `gain`, or after their `rounds`; a point of a front gets `front_rounds` (:mod:`.numerics`). Fronts of
forms of one or two lengths are searched in a fit of their goals (:mod:`.goal_fit`); strings are brought to one level
by steps of their own (:mod:`.levelled`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.solver.shape.following_mesh import FoldedMeshError

from .forms import FormLength
from .goal_fit import MOST, GoalFit, best_of_fit, fitted, unsettled
from .goals import GOALS, changed
from .levelled import Levelled, levelled
from .limits import FormKind, Making, limits
from .methods import Search, SearchEnd, feasible, front, lowest, lowest_of_one
from .numerics import SHIPPED, SearchNumerics
from .so_far import Progress, SoFar


class LengthsKind(FormKind, Protocol):
    """A family of shapes as the search sees it."""

    @property
    def name(self) -> str: ...

    @property
    def parameters(self) -> tuple[FormLength, ...]: ...

    @property
    def low(self) -> Array: ...

    @property
    def high(self) -> Array: ...

    @property
    def start(self) -> Array: ...


class ModelKind(Protocol):
    """Goals of a shape and their slopes, on one mesh that follows it: of poles of a row, or of a body."""

    @property
    def form(self) -> LengthsKind: ...

    @property
    def goals(self) -> tuple[str, ...]: ...

    @property
    def base(self) -> Array: ...

    @property
    def counts(self) -> dict[str, int]: ...

    @property
    def levelled(self) -> Levelled | None:
        """Levels of strings, where their unevenness is the one goal."""

    def rebased(self, base: Array, /) -> ModelKind:
        """The same with its mesh made anew."""

    def values(self, p: Array, /) -> dict[str, float]:
        """Goals at p, SI."""

    def values_and_slopes(self, p: Array, /) -> tuple[dict[str, float], dict[str, Array]]:
        """Goals at p and ∂/∂p (n,), SI."""


@dataclass(frozen=True, kw_only=True)
class Round:
    """One round: goals where it began and ended on its mesh or fit, and the latter on a mesh of its own, SI."""

    began: dict[str, float]
    ended: dict[str, float]
    meshed: dict[str, float]
    steps: int
    message: str


@dataclass(frozen=True, kw_only=True, eq=False)
class Best:
    """A shape that was found.

    Attributes
    ----------
    p : array (n,)
        Lengths, m.
    moved, meshed : dict
        Goals on the mesh that had followed it, and on one of its own, SI.
    rounds : tuple of Round
    held : bool
        Whether a bound of a length holds it.
    """

    p: Array
    moved: dict[str, float]
    meshed: dict[str, float]
    rounds: tuple[Round, ...]
    held: bool

    @property
    def remeshing(self) -> dict[str, float]:
        """What a mesh of its own changes, relative, of unevenness in dB: after the round in which that was most."""
        return {n: max((changed(n, r.ended[n], r.meshed[n]) for r in self.rounds), key=abs) for n in self.moved}


@dataclass(frozen=True, kw_only=True, eq=False)
class GoalNoise:
    """How smooth a goal is along a line of shapes.

    Attributes
    ----------
    scatter : float
        Rms distance from a smooth curve over small steps, SI.
    range : float
        How far the goal moves over the whole search range along the line, SI.
    """

    scatter: float
    range: float

    @property
    def share(self) -> float:
        return self.scatter / self.range if self.range > 0 else 0.0


@dataclass(eq=False)
class ShapeSearch:
    """A model under the limits of a workshop."""

    model: ModelKind
    making: Making
    progress: Progress = lambda stage, share: None
    numerics: SearchNumerics = SHIPPED
    size: dict[str, float] = field(default_factory=dict)
    fitted: int = 0  # shapes in the fit that a front was searched in
    _ends: list[int] = field(default_factory=list)  # highest control points of the best of one goal alone

    def __post_init__(self) -> None:
        self.so_far = SoFar(self.progress)
        self._limits = limits(self.model.form, self.making)
        self._span = self.model.form.high - self.model.form.low
        self._on(self.model)
        x = feasible(self._search(self.model), self._x(self.model.form.start))
        g = self._limits(self._p(x))
        if g.size and float(g.min()) < -100 * self.numerics.feasible:
            raise CaseError("the making limits leave no such shape; allow a smaller --least-radius, a deeper cut "
                            "with --deepest, or another volume")
        self.start = self._p(x)
        self.size = {n: abs(v) for n, v in self.model.rebased(self.start).values(self.start).items()}

    def best(self, start: Array, goal: int = 0, ceiling: float | None = None, most: int | None = None) -> Best:
        """At `most` so many rounds from a shape; `ceiling` for the other goal in its size at the start.

        A profile has to reach the face somewhere, where its highest point is turned. Output draws it there by itself.
        For other goals one control point is held there: each of `pins` is tried for a round, the best goes on.
        """
        most = self.numerics.rounds if most is None else most
        if self.model.form.curve is None:
            return self._best(start, goal, ceiling, most, None)
        if ceiling is None and self.model.goals[goal] == "output":
            found = self._best(start, goal, ceiling, most, None)
            self._ends.append(max(self.pins, key=lambda k: float(found.p[k])))
            return found
        pins = self.pins if ceiling is None else tuple(dict.fromkeys(self._ends)) or self.pins
        tried = [(self._best(start, goal, ceiling, 1, pin), pin) for pin in pins]
        slack = 0.0 if ceiling is None else self.numerics.ceiling_missed * abs(ceiling)
        allowed = [t for t in tried if ceiling is None
                   or self._sized(t[0].moved)[1 - goal] <= ceiling + slack] or tried
        first, pin = min(allowed, key=lambda t: float(self._sized(t[0].moved)[goal]))
        if ceiling is None:
            self._ends.append(pin)
        if most == 1:
            return first
        more = self._best(first.p, goal, ceiling, most - 1, pin)
        return replace(more, rounds=(*first.rounds, *more.rounds))

    @property
    def pins(self) -> tuple[int, ...]:
        """Control points that may be the highest: axis, middle and rim; between two ends of a front, theirs."""
        n = self.model.base.size
        return tuple(dict.fromkeys((0, n // 2, n - 1)))

    def _best(self, start: Array, goal: int, ceiling: float | None, most: int, pin: int | None) -> Best:
        if pin is not None:
            start = self._p(feasible(self._search(self.model).pinned(pin), self._x(start)))
        model, p, rounds, whole = self.model.rebased(start), start, list[Round](), True
        values = model.values(p)
        while True:
            if most == self.numerics.rounds:
                self.so_far.begin(f"round {len(rounds) + 1}", min(0.9, len(rounds) / most))
            found, held = self._round(model, p, goal, ceiling, whole, pin)
            whole, p = found.stuck, self._p(found.x)
            ended = self._named(found.goals)
            model = model.rebased(p)
            before, began, values = ended, values, model.values(p)
            rounds.append(Round(began=began, ended=ended, meshed=values, steps=found.steps, message=found.message))
            if len(rounds) == most or (not whole and self._settled(rounds[-1], model.goals[goal])):
                return Best(p=p, moved=before, meshed=values, rounds=tuple(rounds), held=held)

    def _settled(self, last: Round, goal: str) -> bool:
        """Whether a round more would gain nothing."""
        began, ended, meshed = last.began[goal], last.ended[goal], last.meshed[goal]
        if goal == "unevenness":  # it can come to nothing, and what is left is the mesh's
            return meshed < self.numerics.even or meshed > began / 2
        return abs(ended / began - 1) < self.numerics.gain

    def front(self, count: int) -> tuple[Best, ...]:
        """The front of the model's two goals."""
        known: dict[bytes, Best] = {}
        done, n = 0, self.model.base.size
        fit = self._fit(n) if self.model.form.curve is None and n <= MOST else None

        def best(x: Array, goal: int, ceiling: float | None) -> SearchEnd:
            nonlocal done
            b = self._of_fit(fit, x, goal, ceiling) if fit else self.best(
                self._p(x), goal, ceiling, self.numerics.front_rounds)
            done += 1
            comes = ", ".join(f"{b.meshed[n] / GOALS[n].size:.4g} {GOALS[n].shown}" for n in self.model.goals)
            self.progress(f"front, point {done} of {count}: {comes}", 0.9 * done / count)
            known[(place := self._x(b.p)).tobytes()] = b
            return SearchEnd(x=place, goals=self._sized(b.meshed), steps=0, evaluations=0, bound=b.held)

        self.progress(f"front, point 1 of {count}", 0.3 if fit else 0.05)
        return tuple(known[f.x.tobytes()] for f in front(best, self._x(self.start), count, self.numerics.tolerance))

    def _fit(self, n: int) -> GoalFit:
        def report(i: int, count: int) -> None:
            self.progress(f"shapes over the range, {10 * (10 * i // count)} %", 0.3 * i / count)

        fit = fitted(lambda x: self._sized(self._meshed(x)), n, report, self.numerics)
        self.fitted = len(fit.grid)
        return fit

    def _of_fit(self, fit: GoalFit, x: Array, goal: int, ceiling: float | None) -> Best:
        """The best of a fit, shifted to what a solve gives there."""
        search, by, rounds = self._search(self.model), np.zeros(len(self.model.goals)), list[Round]()
        while True:
            found = best_of_fit(fit, search, x, goal, ceiling, by)
            if rounds and (len(rounds) == self.numerics.front_rounds
                           or not unsettled(x, found.x, self.numerics.settled)):
                return Best(p=self._p(x), moved=rounds[-1].ended, meshed=rounds[-1].meshed, rounds=tuple(rounds),
                            held=self._is_held(x))
            began, x = fit.values(x) + by, found.x
            meshed = self._meshed(x)
            rounds.append(Round(began=self._named(began), ended=self._named(found.goals), meshed=meshed,
                                steps=found.steps, message=found.message))
            by = self._sized(meshed) - fit.values(x)

    def _meshed(self, x: Array) -> dict[str, float]:
        """Goals on a mesh of the shape's own, SI."""
        p = self._p(x)
        return self.model.rebased(p).values(p)

    def noise(self, p: Array) -> dict[str, GoalNoise]:
        """Scatter of every goal over a hundredth of the search range, on one mesh, and its range.

        The line runs along the diagonal from the feasible start to p where they differ, else over all lengths.
        """
        line = p - self.start
        if float(np.max(np.abs(line / self._span))) < 0.02:
            line = np.where(p - self.model.form.low > self._span / 2, -1.0, 1.0) * self._span * 0.3
        model = self.model.rebased(p - line / 2)
        small = 0.01 * line / float(np.max(np.abs(line / self._span)))
        middle = p - line / 2
        count = self.numerics.noise_steps
        t = np.linspace(-1, 1, count)
        values = [model.values(middle + s * small / 2) for s in t]
        ends = [self._reached(model, middle, s * line / 2) for s in (-1.0, 1.0)]
        out = {}
        for n in self.model.goals:
            y = np.array([v[n] for v in values])
            smooth = np.polynomial.Chebyshev.fit(t, y, 3)(t)
            wide = [*y, *(e[n] for e in ends)]
            scatter = np.std(y - smooth) * np.sqrt(count / (count - 4))
            out[n] = GoalNoise(scatter=float(scatter), range=float(np.ptp(wide)))
        return out

    def _reached(self, model: ModelKind, middle: Array, step: Array) -> dict[str, float]:
        """Goals at the end of a line, or as far along it as the mesh follows."""
        for _ in range(12):
            try:
                return model.values(middle + step)
            except FoldedMeshError:
                step = step * self.numerics.shrink
        return model.values(middle)

    def _round(self, model: ModelKind, p: Array, goal: int, ceiling: float | None, whole: bool,
               pin: int | None) -> tuple[SearchEnd, bool]:
        """The search on one mesh, in as much of the box as the mesh can follow."""
        middle = self._x(p)
        reach = 1.0 if whole else self.numerics.again  # a round that follows only mends what the new mesh changed
        if model.levelled is not None and not self._limits(p).size:
            return self._round_of_levels(model, model.levelled, middle, reach)
        one = p.size == 1 and ceiling is None
        while True:
            search = self._search(model).within(middle - reach, middle + reach).pinned(pin)
            try:
                found = lowest_of_one(search, goal) if one else lowest(search, middle, goal, ceiling)
            except FoldedMeshError:
                reach *= self.numerics.shrink
                continue
            return found, self._is_held(found.x)

    def _round_of_levels(self, model: ModelKind, of: Levelled, middle: Array,
                         reach: float) -> tuple[SearchEnd, bool]:
        """The same where strings are brought to one level."""
        solved = model.counts["solves"]
        search = self._search(model).within(middle - reach, middle + reach)

        def levels(x: Array) -> Array:
            r = of.levels(self._p(x))
            self._note(x, {"unevenness": float(np.sqrt(np.mean(r**2)))})
            return r

        found = levelled(Levelled(levels=levels, slopes=lambda x: of.slopes(self._p(x)) * self._span),
                         middle, search.low, search.high, numerics=self.numerics)
        end = SearchEnd(x=found.x, goals=self._sized({"unevenness": found.rms}), steps=found.steps,
                        evaluations=model.counts["solves"] - solved, bound=self._is_held(found.x), stuck=found.stuck)
        return end, end.bound

    def _note(self, x: Array, values: dict[str, float]) -> None:
        """Keep it, if there is one goal and it is better than what there was."""
        if len(self.model.goals) > 1 or np.min(self._limits(self._p(x)), initial=0.0) < -self.numerics.feasible:
            return
        name = self.model.goals[0]
        words = f"{values[name] / GOALS[name].size:.4g} {GOALS[name].shown}"
        self.so_far.note(self._p(x), self._sign(name) * values[name], values, words)

    def _is_held(self, x: Array) -> bool:
        # a profile's upper bound is the face itself
        high = x > 1 - 1e-3 if self.model.form.curve is None else np.zeros(x.size, bool)
        return bool(np.any((x < 1e-3) | high))

    def _search(self, model: ModelKind) -> Search:
        n = model.base.size

        def evaluate(x: Array) -> tuple[Array, Array]:
            values, slopes = model.values_and_slopes(self._p(x))
            self._note(x, values)
            by_x = [self._sign(k) * slopes[k] * self._span / self.size[k] for k in model.goals]
            return self._sized(values), np.stack(by_x)

        def only(x: Array) -> tuple[Array, Array]:
            values = model.values(self._p(x))
            self._note(x, values)
            return self._sized(values), np.zeros((0, n))

        return Search(evaluate=evaluate, limits=lambda x: self._limits(self._p(x)), low=np.zeros(n), high=np.ones(n),
                      values=only, safe=np.ones(n) if model.form.curve is not None else np.full(n, 0.5),
                      numerics=self.numerics)

    def _on(self, model: ModelKind) -> None:
        names = [q.name for q in model.form.parameters if q.low >= q.high]
        if names:
            raise CaseError(f"--form {model.form.name}: the {names[0]} has no room; allow a deeper cut "
                            "with --deepest")

    def _sign(self, name: str) -> float:
        return GOALS[name].sign

    def _sized(self, values: Mapping[str, float]) -> Array:
        """Goals as the search has them: less is better, 1 is their size at the start."""
        return np.array([self._sign(n) * values[n] / self.size[n] for n in self.model.goals])

    def _named(self, goals: Array) -> dict[str, float]:
        return {n: float(self._sign(n) * g * self.size[n]) for n, g in zip(self.model.goals, goals, strict=True)}

    def _p(self, x: Array) -> Array:
        return np.asarray(self.model.form.low + x * self._span)

    def _x(self, p: Array) -> Array:
        return np.asarray((p - self.model.form.low) / self._span)
