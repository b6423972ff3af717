r"""The balance, solved: rounds of a bounded step on the smooth model and an exact answer.

With e = L(x) − wanted, less its mean unless the level is to stay, a step minimises::

    ½ |e|² + ½ w² |x|²        under  a·x ≤ b,   gap_i(x) ≥ G_i − s_i,   |x_j| ≤ travel

w is so small that the least movement is preferred among settings that are equally even, and no more. The s ≥ 0 let a
pull that cannot be brought under its limit come as near as it can: a linear programme finds the smallest Σ s first.
Sequential quadratic programming (SLSQP) with exact derivatives; dB and mm inside.

What holds a setting back: at the optimum the gradient is balanced by multipliers of the limits that bind; limits
with a multiplier that matters are named. What each costs is told by the optimum of the same model without it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, minimize, nnls

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError
from stringflux.geometry.units import mm

from .levels import Curve, Measured, Plant
from .limits_row import Bound
from .model import Model
from .problem import SettingProblem, Unknown

MM = 1e-3
PROMISE = 0.02  # dB: largest difference between what the model promised and what came
SETTLED = 0.1  # dB: less than this is not worth another 3-D solution; a step of 0.05 mm moves a string by as much
PULL_PRECISION = 0.01  # as a part of the pull's limit
ROUNDS = 10
LEAST_MOVEMENT = 0.01  # w, dB/mm: a movement of 1 mm costs as much as 0.01 dB
ALONE = 0.1  # dB: so near to what is wanted, sides or poles alone do it; a step of 0.05 mm moves a string by as much
BEYOND = 1.5e-3  # m; without the end of its travel a movement goes so far on: further the model knows too little
_ROOM = 1e-7  # m, so that what is left of the setting is more than a point
_TOUCH = 5e-6  # a limit nearer than this binds, m
_MATTERS = 0.02  # dB² that would be gained per mm


@dataclass(frozen=True, kw_only=True, eq=False)
class BestSetting:
    """The best setting before it is rounded.

    Attributes
    ----------
    x : array (k,)
        Movements, m.
    model : Model
        About x, which was solved exactly.
    before : Measured
    misses : tuple of float
        For each round the largest difference between promise and exact answer, dB.
    binding : tuple of Limit
        What holds it back, the costliest first.
    """

    x: Array
    model: Model
    before: Measured
    misses: tuple[float, ...]
    binding: tuple[Bound, ...]


@dataclass(frozen=True, kw_only=True)
class LimitsCost:
    """What limits cost, as the largest deviation from what is wanted, before rounding, dB.

    Attributes
    ----------
    off : float
        With all of them.
    each : tuple of float
        Without one of those that bind, in their order; nan where that has no setting.
    none : float
        Without all of those.
    level : float or None
        Where the mean level is to stay: if it need not.
    """

    off: float
    each: tuple[float, ...]
    none: float
    level: float | None


def deviation(problem: SettingProblem, level: Array, before: Array) -> Array:
    """e (n,): how far each string is over what is wanted, dB; the mean level is that of `before`, or free."""
    e = level - problem.wanted
    target = np.mean(before - problem.wanted) if problem.request.keep_level else np.mean(e)
    return np.asarray(e - target)


def find_setting(problem: SettingProblem, plant: Plant, progress: Callable[[int], None] = lambda number: None,
                 settable: Callable[[Model, Array, Measured], Array] | None = None) -> BestSetting:
    """The most even setting within the limits.

    Parameters
    ----------
    progress : callable
        Told the number of the round, from 0.
    settable : callable, optional
        Where answers are dear: gives the setting that can be set for one found on a model. Only such are solved
        then, and the rounds are over when the model, exact at the last of them, gains less than 0.1 dB and would
        move no string by 0.1 dB, however much it promised too much before.

    Raises
    ------
    SolveError
        When promise and exact answer do not come together.
    """
    progress(0)
    x = np.zeros(len(problem.unknowns))
    faces, lows = problem.faces, problem.lows
    before = plant.measure(faces, lows)
    model = Model(problem=problem, curves=plant.curves(faces, lows), at=x, measured=before,
                  cross=np.zeros((len(lows), x.size)))
    misses: list[float] = []
    for number in range(1, ROUNDS + 1):
        x = best_step(model, before)
        if settable is not None:
            x = settable(model, x, before)
        settled = bool(misses) and misses[-1] < PROMISE if settable is None else _stays(model, x, before)
        worth = PROMISE if settable is None else SETTLED
        simpler = len(_moving(model, x)) < len(_moving(model, model.at))
        if settled and not simpler and _no_better(model, x, before, worth):
            return BestSetting(x=model.at, model=model, before=before, misses=tuple(misses),
                               binding=_binding(model, model.at, before))
        progress(number)
        promised, measured = model.levels(x), plant.measure(problem.faces_at(x), problem.lows_at(x))
        misses.append(float(np.ptp(promised - measured.level)) / 2)
        model = model.learned(x, measured, _curves_again(model, x, plant))
    raise SolveError(f"the balance did not settle in {ROUNDS} rounds: promise and computation still differ by "
                     f"{misses[-1]:.2f} dB; allow less travel, or a larger smallest gap")


def _moving(model: Model, x: Array) -> set[str]:
    """Whether sides, poles or both move."""
    return {u.kind for u, v in zip(model.problem.unknowns, x, strict=True) if v != 0.0}


def _stays(model: Model, x: Array, before: Measured) -> bool:
    """Whether no string would come nearer to its level or away from it, by what can be told, at x."""
    here, there = (deviation(model.problem, model.levels(v), before.level) for v in (model.at, x))
    return bool(np.max(np.abs(there - here)) < SETTLED)


def _no_better(model: Model, x: Array, before: Measured, worth: float) -> bool:
    """Whether x promises less than is `worth` another solution, dB, over the one solved last; and no less pull."""
    here, there = (float(np.linalg.norm(deviation(model.problem, model.levels(v), before.level)))
                   for v in (model.at, x))
    request, pull = model.problem.request, model.measured.pull
    if request.pull is not None and pull is not None:
        over = np.maximum(pull, request.pull) - np.maximum(model.pulls(x), request.pull)
        if np.max(over) > PULL_PRECISION * request.pull:
            return False
    return here - there < worth


def _curves_again(model: Model, x: Array, plant: Plant) -> Sequence[Curve] | None:
    """New curves about x if a string has come to the end of its curve, else None."""
    gaps, problem = model.problem.gaps_at(x), model.problem
    if all(c.low + _TOUCH < g < c.high - _TOUCH for c, g in zip(model.curves, gaps, strict=True)):
        return None
    return plant.curves(problem.faces_at(x), problem.lows_at(x))


def best_step(model: Model, before: Measured, without: frozenset[str] = frozenset()) -> Array:
    """The optimum on the model, x (k,) in m; the sides alone, or the poles alone, where one of them does it.

    A pole against the whole pickup is otherwise traded for hundredths of a dB: both move the gap.

    Parameters
    ----------
    without : set of str
        Limits that do not count, by their words.
    """
    unknowns, problem = model.problem.unknowns, model.problem
    every = np.array([u.travel for u in unknowns])
    whole = _best_within(model, before, every, without)

    def off(x: Array) -> float:
        return float(np.max(np.abs(deviation(problem, model.levels(x), before.level))))

    def pulled(x: Array) -> float:
        return float(np.max(model.pulls(x))) if problem.request.pull is not None else 0.0

    pull = max(pulled(whole), problem.request.pull or 0.0) * (1 + PULL_PRECISION)
    for kind in ("side", "pole") if len({u.kind for u in unknowns}) > 1 else ():
        alone = np.array([u.travel if u.kind == kind else 0.0 for u in unknowns])
        try:
            x = np.where(alone > 0, _best_within(model, before, alone, without), 0.0)
        except SolveError:
            continue  # no setting of that kind alone keeps the limits
        if off(x) <= max(off(whole), ALONE) and pulled(x) <= pull:
            return x
    return whole


def cost_of_limits(model: Model, x: Array, before: Measured, binding: Sequence[Bound]) -> LimitsCost:
    """What limits that bind at x cost, and keeping the level, by the model, which is exact there."""
    request = model.problem.request
    free = replace(model, problem=replace(model.problem, request=replace(request, keep_level=False)))

    def off(at: Array, of: Model) -> float:
        return float(np.max(np.abs(deviation(of.problem, of.levels(at), before.level))))

    def without(*limits: Bound, of: Model = model) -> float:
        try:
            return off(best_step(of, before, frozenset(limit.words for limit in limits)), of)
        except SolveError:
            return float("nan")

    return LimitsCost(off=off(x, model), each=tuple(without(limit) for limit in binding),
                      none=without(*binding) if binding else off(x, model),
                      level=without(of=free) if request.keep_level else None)


def _best_within(model: Model, before: Measured, travel: Array, without: frozenset[str] = frozenset()) -> Array:
    """The optimum on the model with each movement within its travel, m."""
    problem, k = model.problem, len(model.problem.unknowns)
    A, b = _rows(model, without)
    low, high = _ends(problem, travel, without)
    pulls = [limit for limit in pull_limits(model) if limit.words not in without]
    if pulls:
        P, p = np.array([limit.row for limit in pulls]), np.array([limit.most for limit in pulls])
        A, b = np.vstack([A, P]), np.concatenate([b, p + _shortfall(A, b, P, p, (low, high))])

    def value(v: Array) -> float:
        e = deviation(problem, model.levels(v * MM), before.level)
        return float(e @ e + LEAST_MOVEMENT**2 * v @ v) / 2

    def slope(v: Array) -> Array:
        return np.asarray(_gradient(model, v * MM, before) + LEAST_MOVEMENT**2 * v)

    start = np.clip(model.at, low, high) / MM
    found = minimize(value, start, jac=slope, method="SLSQP", bounds=Bounds(low / MM, high / MM),
                     options={"maxiter": 200, "ftol": 1e-9}, constraints=LinearConstraint(A, -np.inf, b / MM))
    if not found.success:
        raise SolveError(f"the balance's step did not settle ({str(found.message).lower()}); allow less travel")
    return np.asarray(found.x[:k] * MM)


def _ends(problem: SettingProblem, travel: Array, without: frozenset[str]) -> tuple[Array, Array]:
    """The least and the largest of each movement, m."""
    low, high = -travel, travel.copy()
    for j, u in enumerate(problem.unknowns):
        for ends, sign in ((high, 1), (low, -1)):
            if travel[j] and _travel_words(u, sign) in without:
                ends[j] = sign * (travel[j] + BEYOND)
    return low, high


def _shortfall(A: Array, b: Array, P: Array, p: Array, ends: tuple[Array, Array]) -> Array:
    """By how much each pull's least gap has to be missed, in sum as little as can be, m (n,)."""
    k, n = A.shape[1], len(p)
    found = linprog(np.concatenate([np.zeros(k), np.ones(n)]),
                    A_ub=np.block([[A, np.zeros((len(A), n))], [P, -np.eye(n)]]) / MM,
                    b_ub=np.concatenate([b, p]) / MM,
                    bounds=[*zip(*ends, strict=True), *(((0.0, None),) * n)])
    if found.x is None:
        raise SolveError(f"the limits of the balance leave no setting at all ({str(found.message).lower()})")
    short = np.asarray(found.x[k:])
    return np.where(short > 0, short + _ROOM, 0.0)


def _rows(model: Model, without: frozenset[str]) -> tuple[Array, Array]:
    """All that is linear, and every string within its curve."""
    problem = model.problem
    limits = [limit for limit in problem.limits if limit.words not in without]
    gaps, G = problem.gaps_at(np.zeros(len(problem.unknowns))), problem.gap_map
    low, high = (np.array([getattr(c, end) for c in model.curves]) for end in ("low", "high"))
    A = np.vstack([*(limit.row for limit in limits), -G, G])
    return A, np.concatenate([[limit.most for limit in limits], gaps - low, high - gaps])


def _gradient(model: Model, x: Array, before: Measured) -> Array:
    """d ½|e|²/dx (k,), dB²/mm."""
    J = model.slopes(x) * MM
    if not model.problem.request.keep_level:
        J = J - J.mean(axis=0)
    return np.asarray(deviation(model.problem, model.levels(x), before.level) @ J)


def hard_limits(problem: SettingProblem) -> list[Bound]:
    """Limits of bodies and of travel."""
    out = list(problem.limits)
    for j, u in enumerate(problem.unknowns):
        unit = np.eye(len(problem.unknowns))[j]
        out += [Bound(row=s * unit, most=u.travel, words=_travel_words(u, s)) for s in (1, -1)]
    return out


def _travel_words(unknown: Unknown, sign: int) -> str:
    way = "towards the strings" if sign > 0 else "away from the strings"
    return f"{unknown.name} is at the end of its travel, {mm(unknown.travel)} {way}"


def pull_limits(model: Model) -> list[Bound]:
    """Limits of pull as least gaps, by the model; they may be out of reach."""
    problem, pull = model.problem, model.problem.request.pull
    if pull is None:
        return []
    gaps, least = problem.gaps_at(np.zeros(len(problem.unknowns))), model.least_gaps(pull)
    return [Bound(row=-problem.gap_map[i], most=float(gaps[i] - least[i]),
                  words=f"the pull on string {i + 1} is at {pull:g} cent") for i in range(len(gaps))]


def _binding(model: Model, x: Array, before: Measured) -> tuple[Bound, ...]:
    """Limits that hold the setting back, by the multipliers that balance the gradient."""
    limits = [*hard_limits(model.problem), *pull_limits(model)]
    touched = [limit for limit in limits if limit.most - limit.row @ x < _TOUCH]
    if not touched:
        return ()
    weights, _ = nnls(np.array([limit.row for limit in touched]).T, -_gradient(model, x, before))
    order = np.argsort(-weights)
    return tuple(touched[i] for i in order if weights[i] > _MATTERS)
