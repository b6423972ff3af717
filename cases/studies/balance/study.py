"""A case brought to its most even setting: the whole of `stringflux balance` without a word of it."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.reading.moved import setting_changes
from stringflux.postprocess.plucked.modes import PLUCK, Pluck

from ...files.load import load_case, read_content
from ...solved.direct_current import refuse_direct_current
from ...solved.numerics import SHIPPED, Numerics
from ...solved.unmagnetised import refuse_unmagnetised
from .levels import CasePlant, Plant
from .limits_row import Bound
from .model import Model
from .problem import BalanceRequest, SettingProblem, balance_problem
from .result import Balanced
from .rounding import rounded_setting
from .search import PULL_PRECISION, cost_of_limits, deviation, find_setting

ERROR = 0.1e-3
"""The error of a setting whose cost is told, m."""
POLES = BalanceRequest()
"""Every pole's height, to equal sensitivity."""
_TRIES = 3  # roundings: another one only when the pull came out over its limit

Progress = Callable[[str, float], None]


def balance(which: str | os.PathLike[str], asked: BalanceRequest = POLES, *,
            changes: Mapping[str, Any] | None = None, quality: str = "normal", pluck: Pluck = PLUCK,
            progress: Progress = lambda stage, share: None) -> Balanced:
    """Find the tilt, or the height of each pole, that evens out the strings.

    Parameters
    ----------
    which : str or path
        A case file, or the name of a shipped case.
    asked : BalanceRequest
    changes : mapping of str to object, optional
        As of :func:`stringflux.cases.load_case`.
    quality : {"draft", "normal", "fine"}
    pluck : Pluck
        For the measure "output".

    Returns
    -------
    Balanced
        ``found.changes`` is what the case has to say otherwise, for ``pickup.with_`` or ``load_case``.

    Raises
    ------
    CaseError
        When there is nothing to balance, or pull or output are asked of a case without `bridge_distance`.
    SolveError
        When promise and exact answer do not come together.

    Examples
    --------
    >>> from stringflux.cases import BalanceRequest, balance
    >>> found = balance("bass-four", BalanceRequest(by="tilt"), quality="draft")
    >>> bool(abs(found.off_after).max() < abs(found.off_before).max())  # dB
    True
    >>> found.plot(what="levels").get_ylabel()
    'over what is wanted (dB)'
    """
    return balance_case(read_content(which, changes), load_case(which, changes), asked, quality=quality, pluck=pluck,
                        progress=progress)


def balance_case(data: Mapping[str, Any], case: Case, request: BalanceRequest, *, quality: str = "normal",
                 pluck: Pluck = PLUCK, progress: Progress = lambda stage, share: None,
                 numerics: Numerics = SHIPPED) -> Balanced:
    """Find the setting.

    Parameters
    ----------
    data : mapping
        The case file's content, as a TOML reader gives it.
    case : Case
        The case it makes.
    pluck : Pluck
        For the measure "output".
    numerics : Numerics

    Raises
    ------
    CaseError
        When there is nothing to balance, or pull or output are asked of a case without `bridge_distance`.
    SolveError
        When promise and exact answer do not come together.
    """
    refuse_direct_current(case, "balance")
    refuse_unmagnetised(case, "so there are no levels to balance")
    request = request.of_case(case)
    problem = balance_problem(case, request)
    share = _Share(progress)
    # screws may stand between the strings
    sides = request.side_travel * float(np.max(np.abs(problem.low_map).sum(axis=1)))
    higher = {"tilt": sides, "poles": request.travel, "both": sides + request.travel}
    plant = CasePlant(data, case, measure=request.measure, pull=request.pull is not None, quality=quality,
                      higher=higher[request.by], pluck=pluck, row=problem.row, stage=share.stage, numerics=numerics)
    found = balanced(problem, plant, case, share.round)
    progress("", 1.0)
    return found


def balanced(problem: SettingProblem, plant: Plant, case: Case,
             progress: Callable[[int], None] = lambda number: None) -> Balanced:
    """The setting of a problem that a plant answers."""
    found = find_setting(problem, plant, progress, rounded_setting if problem.solid else None)
    model, misses, movement, after = found.model, list(found.misses), found.x, found.model.measured
    for _ in range(0 if problem.solid else _TRIES):
        movement = rounded_setting(model, found.x, found.before)
        after = plant.measure(problem.faces_at(movement), problem.lows_at(movement))
        promised = model.levels(movement)
        misses.append(float(np.ptp(promised - after.level)) / 2)
        model = model.learned(movement, after)
        if not _over(problem, model, movement):
            break
    model = _taught_error(problem, plant, model, movement)
    return Balanced(
        case=case, problem=problem, model=model, movement=movement, unrounded=found.x, before=found.before,
        after=after, quarter_turn=_quarter_turns(model, movement),
        off_before=deviation(problem, found.before.level, found.before.level),
        off_after=deviation(problem, after.level, found.before.level), error=_error(model, movement),
        misses=tuple(misses), binding=found.binding,
        cost=cost_of_limits(found.model, found.x, found.before, found.binding),
        changes=setting_changes(case, problem.faces_at(movement).tolist(), problem.lows_at(movement).tolist(),
                                problem.row),
    )


def _over(problem: SettingProblem, model: Model, movement: Array) -> bool:
    """Whether another rounding may bring a pull under its limit that this one left over it."""
    pull, limit = model.measured.pull, problem.request.pull
    if pull is None or limit is None:
        return False
    return bool(np.any(rounded_setting(model, movement, model.measured) != movement)
                and np.max(pull) > limit * (1 + PULL_PRECISION))


def _taught_error(problem: SettingProblem, plant: Plant, model: Model, movement: Array) -> Model:
    """The model with each pole's own derivative made exact: one more answer, each pole 0.1 mm lower, or higher
    where something is in its way.

    What neighbours do is some hundredths of a dB and is taken as learned so far.
    """
    poles = np.array([1.0 if u.kind == "pole" else 0.0 for u in problem.unknowns])
    by = _free_ways(problem, movement, poles) if np.any(poles) else None
    if by is None:
        return model
    x, way = movement + by, np.zeros(len(problem.faces))
    for u, d in zip(problem.unknowns, by, strict=True):
        if u.kind == "pole":
            way[u.number - 1] = d
    level = plant.measure(problem.faces_at(x), problem.lows_at(x)).level
    return model.corrected((level - model.levels(x)) / way[problem.own])


def _free_ways(problem: SettingProblem, movement: Array, poles: Array) -> Array | None:
    """Movements of all poles by 0.1 mm that no limit forbids, the same for all if that can be."""
    def over(by: Array) -> list[Bound]:
        return [k for k in problem.limits if k.row @ (movement + by) > k.most + 1e-9]

    for by in (-ERROR * poles, ERROR * poles):
        if not over(by):
            return by
    by = -ERROR * poles
    for limit in over(by):
        by = np.where(limit.row * by > 0, -by, by)
    return None if over(by) else by


def _quarter_turns(model: Model, x: Array) -> tuple[float | None, ...]:
    """What a quarter of a turn towards the strings does to the string that goes with it most, dB."""
    slopes = model.slopes(x)
    most = slopes[np.argmax(np.abs(slopes), axis=0), np.arange(x.size)]
    return tuple(None if u.screw is None else float(s) * u.screw.quarter
                 for u, s in zip(model.problem.unknowns, most, strict=True))


def _error(model: Model, x: Array) -> Array:
    problem = model.problem
    slopes, poles = model.slopes(x), {u.number - 1: j for j, u in enumerate(problem.unknowns) if u.kind == "pole"}
    gaps = problem.gaps_at(x)
    own = [slopes[i, poles[j]] if j in poles else -model.curves[i].slope(float(gaps[i]))
           for i, j in enumerate(problem.own)]
    return np.asarray(own) * ERROR


class _Share:
    """The solver's stages as a little of a round's share of the work; some five rounds are usual."""

    def __init__(self, progress: Progress) -> None:
        self._progress, self._name, self._done, self._end = progress, "", 0.0, 0.0

    def round(self, number: int) -> None:
        self._name = "the case as it is" if number == 0 else f"round {number}"
        self._done, self._end = 1 - 0.75**number, 1 - 0.75 ** (number + 1)
        self._progress(self._name, self._done)

    def stage(self, name: str) -> None:
        self._done += 0.1 * (self._end - self._done)
        self._progress(self._name, self._done)
