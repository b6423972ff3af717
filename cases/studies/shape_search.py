"""The search for a shape: a mesh that follows within a round, made anew between rounds.

A round is one search (:mod:`.shape_drive`) on one mesh, where goals are smooth. Then the shape found is meshed anew;
what that changes is kept for the report, and the next round starts there. It ends when a round gains less than
`GAIN`, or after `ROUNDS`; a point of a front gets `FRONT_ROUNDS`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError

from .shape_drive import FEASIBLE, Found, Search, feasible, front, lowest, lowest_of_one
from .shape_goals import GOALS
from .shape_limits import Making, limits
from .shape_mesh import FoldedMeshError
from .shape_model import ShapeModel

ROUNDS, FRONT_ROUNDS = 3, 2
NOISE_STEPS = 15  # small steps over which noise is measured
GAIN = 2e-4  # relative: less than a new mesh changes
_SHRINK = 0.6
_AGAIN = 0.15  # of the search range, either way

Progress = Callable[[str, float], None]


@dataclass(frozen=True, kw_only=True)
class Round:
    """One round: goals where it began and ended on its mesh, and the latter on a mesh of its own, SI."""

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
        """What a mesh of its own changes, relative: after the round in which that was most."""
        of = [{n: r.meshed[n] / r.ended[n] - 1 for n in r.ended} for r in self.rounds]
        return {n: max((r[n] for r in of), key=abs) for n in self.moved}


@dataclass(frozen=True, kw_only=True, eq=False)
class Noise:
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

    model: ShapeModel
    making: Making
    progress: Progress = lambda stage, share: None
    size: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._limits = limits(self.model.form, self.making)
        self._span = self.model.form.high - self.model.form.low
        self._on(self.model)
        x = feasible(self._search(self.model), self._x(self.model.form.start))
        g = self._limits(self._p(x))
        if g.size and float(g.min()) < -100 * FEASIBLE:
            raise CaseError("the making limits leave no such shape; allow a smaller --least-radius, a deeper cut "
                            "with --deepest, or another volume")
        self.start = self._p(x)
        self.size = {n: abs(v) for n, v in self.model.rebased(self.start).values(self.start).items()}

    def best(self, start: Array, goal: int = 0, ceiling: float | None = None, most: int | None = None) -> Best:
        """At `most` so many rounds from a shape; `ceiling` for the other goal in its size at the start."""
        most = ROUNDS if most is None else most
        model, p, rounds = self.model.rebased(start), start, list[Round]()
        values = model.values(p)
        while True:
            self.progress(f"round {len(rounds) + 1}", min(0.9, len(rounds) / most))
            found, held = self._round(model, p, goal, ceiling, not rounds)
            p = self._p(found.x)
            ended = {n: float(v) for n, v in zip(model.goals, self._dimensional(found.goals), strict=True)}
            model = model.rebased(p)
            before, began, values = ended, values, model.values(p)
            rounds.append(Round(began=began, ended=ended, meshed=values, steps=found.steps, message=found.message))
            gain = abs(ended[model.goals[goal]] / rounds[-1].began[model.goals[goal]] - 1)
            if gain < GAIN or len(rounds) == most:
                return Best(p=p, moved=before, meshed=values, rounds=tuple(rounds), held=held)

    def front(self, count: int) -> tuple[Best, ...]:
        """The front of the model's two goals."""
        known: dict[bytes, Best] = {}

        def best(x: Array, goal: int, ceiling: float | None) -> Found:
            self.progress(f"front, point {len(known) + 1} of {count}", len(known) / count)
            b = self.best(self._p(x), goal, ceiling, FRONT_ROUNDS)
            place = self._x(b.p)
            known[place.tobytes()] = b
            goals = np.array([self._sign(n) * b.meshed[n] / self.size[n] for n in self.model.goals])
            return Found(x=place, goals=goals, steps=0, evaluations=0, bound=b.held)

        return tuple(known[f.x.tobytes()] for f in front(best, self._x(self.start), count))

    def noise(self, p: Array) -> dict[str, Noise]:
        """Scatter of every goal over a hundredth of the search range, on one mesh, and its range.

        The line runs along the diagonal from the feasible start to p where they differ, else over all lengths.
        """
        line = p - self.start
        if float(np.max(np.abs(line / self._span))) < 0.02:
            line = np.where(p - self.model.form.low > self._span / 2, -1.0, 1.0) * self._span * 0.3
        model = self.model.rebased(p - line / 2)
        small = 0.01 * line / float(np.max(np.abs(line / self._span)))
        middle = p - line / 2
        count = NOISE_STEPS
        t = np.linspace(-1, 1, count)
        values = [model.values(middle + s * small / 2) for s in t]
        ends = [self._reached(model, middle, s * line / 2) for s in (-1.0, 1.0)]
        out = {}
        for n in self.model.goals:
            y = np.array([v[n] for v in values])
            smooth = np.polynomial.Chebyshev.fit(t, y, 3)(t)
            wide = [*y, *(e[n] for e in ends)]
            scatter = np.std(y - smooth) * np.sqrt(count / (count - 4))
            out[n] = Noise(scatter=float(scatter), range=float(np.ptp(wide)))
        return out

    def _reached(self, model: ShapeModel, middle: Array, step: Array) -> dict[str, float]:
        """Goals at the end of a line, or as far along it as the mesh follows."""
        for _ in range(12):
            try:
                return model.values(middle + step)
            except FoldedMeshError:
                step = step * _SHRINK
        return model.values(middle)

    def _round(self, model: ShapeModel, p: Array, goal: int, ceiling: float | None,
               first: bool) -> tuple[Found, bool]:
        """The search on one mesh, in as much of the box as the mesh can follow."""
        middle = self._x(p)
        reach = 1.0 if first else _AGAIN  # a round that follows only mends what the new mesh changed
        one = p.size == 1 and ceiling is None
        while True:
            search = self._search(model).within(middle - reach, middle + reach)
            try:
                found = lowest_of_one(search, goal) if one else lowest(search, middle, goal, ceiling)
            except FoldedMeshError:
                reach *= _SHRINK
                continue
            # a profile's upper bound is the face itself
            high = found.x > 1 - 1e-3 if model.form.curve is None else np.zeros(p.size, bool)
            return found, bool(np.any((found.x < 1e-3) | high))

    def _search(self, model: ShapeModel) -> Search:
        n = model.base.size

        def evaluate(x: Array) -> tuple[Array, Array]:
            values, slopes = model.values_and_slopes(self._p(x))
            goals = np.array([self._sign(k) * values[k] / self.size[k] for k in model.goals])
            return goals, np.stack([self._sign(k) * slopes[k] * self._span / self.size[k] for k in model.goals])

        def only(x: Array) -> tuple[Array, Array]:
            values = model.values(self._p(x))
            return np.array([self._sign(k) * values[k] / self.size[k] for k in model.goals]), np.zeros((0, n))

        return Search(evaluate=evaluate, limits=lambda x: self._limits(self._p(x)), low=np.zeros(n), high=np.ones(n),
                      values=only, safe=np.ones(n) if model.form.curve is not None else np.full(n, 0.5))

    def _on(self, model: ShapeModel) -> None:
        bad = np.any(model.form.low >= model.form.high)
        if bad:
            names = [q.name for q in model.form.parameters if q.low >= q.high]
            raise CaseError(f"--form {model.form.name}: the {names[0]} has no room; allow a deeper cut "
                            "with --deepest")

    def _sign(self, name: str) -> float:
        return GOALS[name].sign

    def _dimensional(self, goals: Array) -> list[float]:
        return [self._sign(n) * g * self.size[n] for n, g in zip(self.model.goals, goals, strict=True)]

    def _p(self, x: Array) -> Array:
        return np.asarray(self.model.form.low + x * self._span)

    def _x(self, p: Array) -> Array:
        return np.asarray((p - self.model.form.low) / self._span)
