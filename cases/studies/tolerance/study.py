"""The scatter of a pickup made again and again: what to compute, and what follows from it.

The program computes the case as it stands, two designs for every part that may be off (they make the surrogate), and
a low-discrepancy sample of pickups with everything off at once. That sample has no part in the surrogate: what the
surrogate misses there is its error, told beside every spread. Spread, importance and shares come from thousands of
pickups of the surrogate.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

from ...files.load import find_case, load_case, read_content
from ...solved.direct_current import refuse_direct_current
from ...solved.solve import solved_case
from ...solved.unmagnetised import refuse_unmagnetised
from ..designs.limits import Limit, read_limit
from ..designs.outputs import without_value
from ..designs.run import HERE, Progress, Running, run_designs, silent
from ..engine.task import Outcome, Task
from .causes import Causes, causes_of
from .deviated import deviated
from .parts import pole_count
from .result import QuantityScatter, ToleranceStudy
from .shares import DOUBT, SURE, doubts_of, kept
from .statistics import importance_of, sobol_sample, spread_of
from .surrogate import (
    Run,
    Surrogate,
    designed_runs,
    fitted,
    plucked_causes,
    quantities_of,
    response_names,
    responses_of,
)

LEAST_CHECK, MOST_CHECK = 4, 4096
LEAST_COUNT, MOST_COUNT = 256, 2**17
IMPORTANCE_COUNT = 4096  # at most; of the two samples that tell whose fault a scatter is


@dataclass(frozen=True, kw_only=True, eq=False)
class TolerancePlan:
    """What is to be computed.

    Attributes
    ----------
    case : Case
    causes : Causes
    runs : list of Run
        That make the surrogate.
    true : array
        Deviations (count, size) of the pickups that check it.
    tasks : list of Task
        The case as it stands, the runs, the pickups.
    """

    case: Case
    causes: Causes
    runs: list[Run]
    true: Array
    tasks: list[Task]


@dataclass(frozen=True, kw_only=True)
class ToleranceRequest:
    """How a scatter is looked into.

    Attributes
    ----------
    limits : tuple of str
        How many pickups keep them: ``("balance<1 dB", "resistance=6.2kohm±5%")``.
    count : int
        Pickups of the sample.
    check : int
        Pickups computed in full, which check the rest.
    seed : int
        For another sample.
    """

    limits: tuple[str, ...] = ()
    count: int = 8192
    check: int = 16
    seed: int = 0

    def __post_init__(self) -> None:
        for name, least, most in (("check", LEAST_CHECK, MOST_CHECK), ("count", LEAST_COUNT, MOST_COUNT),
                                  ("seed", 0, 2**31)):
            if not least <= (value := getattr(self, name)) <= most:
                raise CaseError(f"{name}: received {value}; write a whole number from {least} to {most}")
        if isinstance(self.limits, str):
            raise CaseError(f"limits: received {shown(self.limits)}; write a tuple of such limits")


def tolerance(which: str | os.PathLike[str], asked: ToleranceRequest = ToleranceRequest(), *,
              changes: Mapping[str, Any] | None = None, quality: str = "normal", running: Running = HERE,
              progress: Progress = silent) -> ToleranceStudy:
    """Find how pickups made alike differ, by whose fault, and how many keep stated limits.

    Parameters
    ----------
    which : str or path
        A case file, or the name of a shipped case; its `scatter` says what may be off by how much.
    asked : ToleranceRequest
    changes : mapping of str to object, optional
        As of :func:`stringflux.cases.load_case`.
    quality : {"draft", "normal", "fine"}
    running : Running
        Where the designs are computed; here and now if left out.
    progress : callable
        Told of designs finished, designs in all, and how many of the finished ones failed.

    Returns
    -------
    ToleranceStudy

    Raises
    ------
    CaseError
        When a limit is none, or a scatter makes a pickup that cannot be.

    Examples
    --------
    >>> from stringflux.cases import ToleranceRequest, tolerance
    >>> few = ToleranceRequest(limits=("resistance=870ohm±5%",), check=4, count=256)
    >>> found = tolerance("bench-single", few, quality="draft")
    >>> share = found.limits[0].sample
    >>> 0 < share.low < share.value < share.high < 1
    True
    >>> found.plot(what="causes", quantity="resistance").get_xlabel()
    'share of the variance, with 95 % interval'
    """
    plan, limits, about = planned(which, asked, changes=changes, quality=quality)
    outcomes = run_designs(plan.tasks, running, kind="tolerance", about=about, progress=progress)
    return study_of(plan, outcomes, count=asked.count, seed=asked.seed, limits=limits)


def planned(which: str | os.PathLike[str], asked: ToleranceRequest, *, changes: Mapping[str, Any] | None = None,
            quality: str = "normal") -> tuple[TolerancePlan, list[Limit], dict[str, Any]]:
    """What is to be computed, the limits as read, and what a study folder tells of it.

    Raises
    ------
    CaseError
        One sentence.
    """
    case = load_case(which, changes)
    solved_case(case, quality)  # refused now, if it is; nothing is computed
    known, absent = quantity_names(case), without_value(case)
    limits = [read_limit(text, known, absent) for text in asked.limits]
    plan = plan_of(case, read_content(which, changes), quality=quality, check=asked.check, seed=asked.seed)
    path = find_case(which)
    about = {"case": path.stem, "text": path.read_text(encoding="utf-8-sig"), "changes": dict(changes or {}),
             "check": asked.check, "seed": asked.seed, "quality": quality}
    return plan, limits, about


WANTED = ("sensitivity", "face_field", "inductance", "resistance")


def wanted(case: Case) -> tuple[str, ...]:
    """Figures of a study that the case has; output only where the pickup's place along the strings is known."""
    absent = without_value(case)
    if case.strings.bridge_distance is None:
        return tuple(name for name in WANTED if name not in absent)
    return tuple(name for name in (*WANTED, "output") if name not in absent)


def quantity_names(case: Case) -> tuple[str, ...]:
    """Names of what a study of this case gives."""
    strings, poles = len(case.string), pole_count(case)
    made = [f"string_{i}_{base}" for base in ("sensitivity", "output") if base in wanted(case)
            for i in range(1, strings + 1)]
    made += [f"pole_{i}_face_field" for i in range(1, poles + 1)] + ["inductance", "resistance"]
    return tuple(quantities_of(made, np.ones((1, len(made)))))


def plan_of(case: Case, document: Mapping[str, Any], *, quality: str, check: int, seed: int) -> TolerancePlan:
    """Plan a study.

    Parameters
    ----------
    case : Case
    document : mapping
        What it was read from.
    quality : str
    check : int
        How many pickups with everything off at once the program computes.
    seed : int
    """
    refuse_direct_current(case, "tolerance")
    refuse_unmagnetised(case, "so neither output nor balance can scatter")
    causes = causes_of(case)
    if not causes.active:
        raise CaseError("scatter: every limit is 0, so nothing scatters; give at least one limit")
    runs = designed_runs(causes)
    true = causes.deviations(sobol_sample(check, causes.size, seed))
    designs = [np.zeros(causes.size), *(run.t for run in runs), *true]
    item, plucked = {column: key for key, column in causes.places().items()}, plucked_causes(causes)
    full, without_output = wanted(case), tuple(name for name in wanted(case) if name != "output")
    wants = [(*full, *DOUBT)] + [full if item[run.columns[0]][0] in plucked else without_output for run in runs]
    wants += [full] * check
    tasks = [Task(number=n, document=deviated(case, document, causes, t), quality=quality, want=want)
             for n, (t, want) in enumerate(zip(designs, wants, strict=True))]
    return TolerancePlan(case=case, causes=causes, runs=runs, true=true, tasks=tasks)


def study_of(plan: TolerancePlan, outcomes: Sequence[Outcome], *, count: int, seed: int,
             limits: Sequence[Limit] = ()) -> ToleranceStudy:
    """What follows from the outcomes of a plan.

    Parameters
    ----------
    plan : Plan
    outcomes : sequence of Outcome
        Of its tasks, in their order.
    count : int
        Pickups of the surrogate's sample.
    seed : int
    limits : sequence of Limit

    Raises
    ------
    CaseError
        When the case as it stands or a designed run could not be computed.
    """
    surrogate = _surrogate(plan, outcomes)
    names, causes = surrogate.names, plan.causes
    checks = [(t, o) for t, o in zip(plan.true, outcomes[1 + len(plan.runs):], strict=True)]
    good = [(t, o) for t, o in checks if not o.failure]
    nominal = quantities_of(names, np.exp(surrogate.base)[None])
    sample = quantities_of(names, surrogate.responses(causes.deviations(sobol_sample(count, causes.size, seed + 1))))
    true = guess = {name: np.zeros(0) for name in nominal}
    if good:
        true = quantities_of(names, np.stack([responses_of(o.values, names) for _, o in good]))
        guess = quantities_of(names, surrogate.responses(np.stack([t for t, _ in good])))
    shown = [name for name in nominal if not name.startswith("string_")]
    importance = dict(zip(shown, importance_of(
        lambda u: _columns(quantities_of(names, surrogate.responses(causes.deviations(u))), shown),
        causes.columns(), count=min(IMPORTANCE_COUNT, 2 ** (count.bit_length() - 1)), seed=seed + 2), strict=True))
    doubts = doubts_of(outcomes[0].values)
    scatter = {name: QuantityScatter(
        nominal=float(nominal[name][0]), spread=spread_of(sample[name]), importance=importance.get(name),
        error=float(np.sqrt(np.mean((guess[name] - true[name]) ** 2))) if good else np.nan,
        true_deviation=float(np.std(true[name], ddof=1)) if len(good) > 1 else np.nan, sample=sample[name],
        doubt=doubts.get(name, SURE),
    ) for name in nominal}
    shares = tuple(kept(x.text, [x], sample, true, doubts) for x in limits)
    together = kept("all of them", limits, sample, true, doubts) if len(limits) > 1 else None
    return ToleranceStudy(
        case=plan.case, causes=causes, surrogate=surrogate, scatter=scatter, asked=tuple(limits), limits=shares,
        together=together, runs=len(plan.runs), checked=len(good),
        impossible=tuple(o.failure for _, o in checks if o.failure))


def _surrogate(plan: TolerancePlan, outcomes: Sequence[Outcome]) -> Surrogate:
    if outcomes[0].failure:
        raise CaseError(outcomes[0].failure)
    item = {column: key for key, column in plan.causes.places().items()}
    by_name = {c.name: c for c in plan.causes.active}
    for run, outcome in zip(plan.runs, outcomes[1:], strict=False):
        if outcome.failure:
            cause = by_name[item[run.columns[0]][0]]
            raise CaseError(
                f"scatter, {cause.name}: {run.value:+.0%} of its limit already makes a pickup that cannot be "
                f"({outcome.failure}); write a narrower limit"
            )
    names = response_names(tuple(outcomes[0].values))
    return fitted(plan.causes, plan.runs, names, responses_of(outcomes[0].values, names),
                  [o.values for o in outcomes[1:1 + len(plan.runs)]])


def _columns(quantities: Mapping[str, Array], names: Sequence[str]) -> Array:
    return np.stack([quantities[name] for name in names], axis=1)
