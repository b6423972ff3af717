"""The search: one goal, or the front of two, under limits, by methods of scipy.

Everything is dimensionless here: x in the box 0…1, goals divided by their size at the start, limits g(x) ≥ 0. The
front of two goals is found by the ε-constraint method: the best of each alone are its ends, between them goal 1 is
minimised under goal 2 ≤ ε for a row of ε, each from the answer before it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.optimize import minimize, minimize_scalar

from stringflux.geometry.arrays import Array

from .numerics import SHIPPED, SearchNumerics

Evaluate = Callable[[Array], tuple[Array, Array]]
Limits = Callable[[Array], Array]

_STEP = 1e-6  # between limits whose difference is a slope: they are closed forms


@dataclass(frozen=True, kw_only=True, eq=False)
class Search:
    """Goals to be small and limits to be kept over the unit box.

    Attributes
    ----------
    evaluate : callable
        x (n,) to goals (m,) and their slopes (m, n).
    limits : callable
        x to g (k,), each ≥ 0 where it is kept; k may be 0.
    low, high : arrays (n,)
        Part of the box to stay in.
    values : callable, optional
        Like `evaluate` where no slopes are needed.
    safe : array (n,), optional
        Where the way to the limits begins if it does not begin at the start: limits on curvature have valleys.
    numerics : SearchNumerics
    """

    evaluate: Evaluate
    limits: Limits
    low: Array
    high: Array
    values: Evaluate | None = None
    safe: Array | None = None
    numerics: SearchNumerics = SHIPPED

    def within(self, low: Array, high: Array) -> Search:
        """The same in a part of the box."""
        return replace(self, low=np.maximum(self.low, low), high=np.minimum(self.high, high))

    def pinned(self, pin: int | None) -> Search:
        """The same with one parameter held at the upper end of its range; with none if None."""
        if pin is None:
            return self
        return replace(self, low=np.where(np.arange(self.low.size) == pin, self.high, self.low))

    def kept(self, x: Array) -> bool:
        """Whether all limits are kept."""
        return bool(np.all(self.limits(x) >= -self.numerics.feasible))

    def slopes(self, x: Array) -> Array:
        """∂g/∂x (k, n) by central differences."""
        steps = _STEP * np.eye(x.size)
        if not self.limits(x).size:
            return np.zeros((0, x.size))
        return np.stack([(self.limits(x + h) - self.limits(x - h)) / (2 * _STEP) for h in steps], axis=-1)


@dataclass(frozen=True, kw_only=True, eq=False)
class SearchEnd:
    """Where a search ended.

    Attributes
    ----------
    x, goals : arrays
    steps, evaluations : int
    bound : bool
        Whether a side of the box holds it.
    message : str
        The optimiser's, when it gave up.
    stuck : bool
        Whether the mesh could follow no further.
    """

    x: Array
    goals: Array
    steps: int
    evaluations: int
    bound: bool
    message: str = ""
    stuck: bool = False


def lowest(search: Search, start: Array, goal: int = 0, ceiling: float | None = None) -> SearchEnd:
    """Minimise one goal, the other not above `ceiling` if that is given.

    SLSQP with the slopes given; a start that misses the limits is first brought to them.
    """
    counted = _Counted(search.evaluate)
    other = 1 - goal
    rules: list[Any] = []
    if search.limits(start).size:
        rules.append({"type": "ineq", "fun": search.limits, "jac": search.slopes})
    if ceiling is not None:
        rules.append({"type": "ineq", "fun": lambda x: ceiling - counted(x)[0][other],
                      "jac": lambda x: -counted(x)[1][other]})
    begin = feasible(search, np.clip(start, search.low, search.high))
    result = _slsqp(lambda x: (counted(x)[0][goal], counted(x)[1][goal]), begin, search, rules,
                    {"maxiter": search.numerics.iterations, "ftol": search.numerics.tolerance})
    candidates = [np.clip(result.x, search.low, search.high), begin]
    x = next((c for c in candidates if search.kept(c)), candidates[0])
    goals, _ = counted(x)
    if ceiling is None and x is candidates[0] and search.kept(begin):
        first, _ = counted(begin)
        if first[goal] < goals[goal]:  # a line search that failed at the end
            x, goals = begin, first
    return SearchEnd(x=x, goals=goals, steps=int(result.nit), evaluations=counted.count, bound=_held(search, x),
                     message="" if result.success else str(result.message))


def lowest_of_one(search: Search, goal: int = 0) -> SearchEnd:
    """Minimise a goal of one parameter: looked at in places over its range, then Brent's method between the best.

    Several hollows are no trap unless they are narrower than the places are apart.
    """
    counted = _Counted(search.values or search.evaluate)
    low, high = float(search.low[0]), float(search.high[0])
    dense = np.linspace(low, high, 401)
    fits = np.array([search.kept(np.array([t])) for t in dense])
    if not fits.any():
        return lowest(search, np.array([(low + high) / 2]), goal)
    places = dense[fits][np.unique(np.linspace(0, fits.sum() - 1, search.numerics.scan).round().astype(int))]
    seen = np.array([counted(np.array([t]))[0][goal] for t in places])
    best = int(np.argmin(seen))
    left, right = places[max(best - 1, 0)], places[min(best + 1, len(places) - 1)]
    x, count = np.array([places[best]]), 0
    if right > left:
        result = minimize_scalar(lambda t: counted(np.array([t]))[0][goal], bounds=(left, right), method="bounded",
                                 options={"xatol": search.numerics.fine})
        count = int(result.nfev)
        if result.fun < seen[best] and search.kept(np.array([result.x])):
            x = np.array([float(result.x)])
    return SearchEnd(x=x, goals=counted(x)[0], steps=count, evaluations=counted.count, bound=_held(search, x))


def front(best: Callable[[Array, int, float | None], SearchEnd], start: Array, count: int,
          tolerance: float = SHIPPED.tolerance) -> tuple[SearchEnd, ...]:
    """The front of two goals, from the best of goal 1 to the best of goal 2; dominated points are left out.

    Parameters
    ----------
    best : callable
        Start, goal and the other's ceiling (None for none) to the best that is found, as :func:`lowest` gives it.
    count : int
        Points wanted, both ends among them.
    tolerance : float
        Of goals: a point that gains less is dominated.
    """
    first = best(start, 0, None)
    last = best(first.x, 1, None)
    found = [first]
    for ceiling in np.linspace(first.goals[1], last.goals[1], count)[1:-1]:
        found.append(best(found[-1].x, 0, float(ceiling)))
    return undominated([*found, last], tolerance)


def undominated(points: list[SearchEnd], tolerance: float = SHIPPED.tolerance) -> tuple[SearchEnd, ...]:
    """Those than which none is better in one goal and as good in the other, by goal 1."""
    kept: list[SearchEnd] = []
    for p in sorted(points, key=lambda q: (q.goals[0], q.goals[1])):
        if not kept or p.goals[1] < kept[-1].goals[1] - tolerance:
            kept.append(p)
    return tuple(kept)


def feasible(search: Search, x: Array) -> Array:
    """A near place that keeps the limits; where none is found, what comes closest to them."""
    if search.kept(x):
        return x
    found = []
    for begin in (x, search.safe):
        if begin is None:
            continue
        rules = [{"type": "ineq", "fun": search.limits, "jac": search.slopes}]
        result = _slsqp(lambda t: (float((t - x) @ (t - x)), 2 * (t - x)), begin, search, rules,
                        {"maxiter": 300, "ftol": 1e-10})
        found.append(np.asarray(np.clip(result.x, search.low, search.high)))
        if search.kept(found[-1]):
            return found[-1]
    return max(found, key=lambda t: float(np.min(search.limits(t))))


def _slsqp(goal: Callable[[Array], tuple[float, Array]], begin: Array, search: Search, rules: list[Any],
           options: dict[str, float]) -> Any:
    solve: Any = minimize  # its stubs take no list of rules with slopes
    return solve(goal, begin, jac=True, method="SLSQP", bounds=list(zip(search.low, search.high, strict=True)),
                 constraints=rules, options=options)


def _held(search: Search, x: Array) -> bool:
    width = search.high - search.low
    return bool(np.any((x - search.low < 1e-3 * width) | (search.high - x < 1e-3 * width)))


class _Counted:
    """Evaluations, the last ones kept: value and slope are asked for one after the other."""

    def __init__(self, evaluate: Evaluate) -> None:
        self._evaluate = evaluate
        self._kept: dict[bytes, tuple[Array, Array]] = {}
        self.count = 0

    def __call__(self, x: Array) -> tuple[Array, Array]:
        key = np.asarray(x, float).tobytes()
        if key not in self._kept:
            self.count += 1
            if len(self._kept) > 8:
                self._kept.pop(next(iter(self._kept)))
            self._kept[key] = self._evaluate(np.asarray(x, float).copy())
        return self._kept[key]
