"""Least-squares fit of what readings determine, and a refusal of what they do not.

    minimise  Σ [(y_i − f_i(θ))/u_i]² + Σ [(θ_k − θ_k⁰)/σ_k]²

over the asked parameters, about which nothing is assumed, and over the doubts of the prediction (μ_⊥ of the
magnets, Ω/m of the wire …), each with its own σ_k; the unknown drive of the outputs is taken out by its weighted
mean. What has to hold for a parameter to be fitted: :mod:`.determined`. The covariance is (JᵀJ)⁻¹;
intervals are 95 %, widened by √(χ²/degrees of freedom), with Student's factor, where the readings scatter more
than they say.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import norm, t

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError

from .determined import FULL, NEARLY, covariance_of, faults
from .problem import Parameter, Predictor, Problem
from .reading import Reading, levelled, levels

CONFIDENCE = 0.95
_SCAN = (FULL, NEARLY, 0.7, 0.6, 0.5, 0.4, 0.3)


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """A parameter after the fit: its value, what it was, and the interval of 95 %."""

    parameter: Parameter
    value: float
    interval: tuple[float, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class Fit:
    """What came out.

    Attributes
    ----------
    fitted, doubts : tuples of Fitted
        The asked parameters, and the prediction's doubts as they came out with them.
    refused : tuple of str
        Sentences on what could not be fitted (only where that was allowed).
    predicted : array (n,)
        By the fitted model, levels included.
    chi_square, freedom : float, int
        Sum of squared residuals (with the priors'), and degrees of freedom.
    widened : float
        What the intervals were widened by, 1 if by nothing.
    """

    fitted: tuple[Fitted, ...]
    doubts: tuple[Fitted, ...]
    refused: tuple[str, ...]
    predicted: Array
    chi_square: float
    freedom: int
    widened: float

    @property
    def state(self) -> dict[str, float]:
        """All values by name."""
        return {f.parameter.name: f.value for f in (*self.fitted, *self.doubts)}


def fit_readings(model: Predictor, readings: Sequence[Reading], asked: Sequence[Parameter],
                 doubts: Sequence[Parameter] = (), *, drop: bool = False) -> Fit:
    """Fit the asked parameters.

    Parameters
    ----------
    model : Predictor
    readings : sequence of Reading
    asked : sequence of Parameter
    doubts : sequence of Parameter
        Of the prediction, with their `sigma`; left out where they are asked for.
    drop : bool
        Leave out what the readings do not determine, and say so in `refused`, instead of raising.

    Raises
    ------
    CaseError
        When the readings do not determine something that was asked for.
    """
    asked, refused = list(asked), list[str]()
    names = {p.name for p in asked}
    doubts = [d for d in doubts if d.name not in names]
    asked = _charges_started(model, readings, asked, doubts)
    while True:
        problem = Problem(model, readings, [*asked, *doubts])
        x = np.zeros(len(problem.parameters))
        found = faults(problem, x, len(asked))
        if not found and asked:
            low, high = problem.bounds()
            solved = least_squares(problem, np.clip(x, low + 1e-9, high - 1e-9), jac=problem.jacobian,
                                   bounds=(low, high), x_scale=1.0, xtol=1e-3, ftol=1e-5, gtol=1e-5, max_nfev=30)
            x = solved.x
            found = faults(problem, x, len(asked))
        if not found:
            return _record(problem, x, len(asked), refused)
        worst, sentence = found[0]
        if not drop:
            raise CaseError(f"--fit: the readings do not determine {sentence}")
        refused.append(sentence)
        asked.pop(worst)


def _charges_started(model: Predictor, readings: Sequence[Reading], asked: Sequence[Parameter],
                     doubts: Sequence[Parameter]) -> list[Parameter]:
    """Charges begin where a common one fits best: at a full charge the readings may not answer at all."""
    charges = [p for p in asked if p.name.startswith("charge")]
    if not charges or not readings:
        return list(asked)
    problem = Problem(model, readings, [*asked, *doubts])

    def misfit(charge: float) -> float:
        x = np.array([(charge - p.start) / p.scale if p in charges else 0.0 for p in problem.parameters])
        return float(np.sum(problem.data(x) ** 2))

    best = min(_SCAN, key=misfit)
    return [replace(p, start=best) if p in charges else p for p in asked]


def _record(problem: Problem, x: Array, asked: int, refused: Sequence[str]) -> Fit:
    predicted = problem.model.predict(problem.readings, problem.state(x))
    whole = problem(x)
    priors = problem.prior_rows().shape[0]
    freedom = len(problem.readings) + priors - len(problem.parameters) - len(levels(problem.readings))
    chi2 = float(whole @ whole)
    widened = float(np.sqrt(max(chi2 / freedom, 1.0))) if freedom > 0 else 1.0
    level = (1 + CONFIDENCE) / 2
    times = widened * float(t.ppf(level, freedom) if widened > 1.0 else norm.ppf(level))
    spread = np.sqrt(np.diag(covariance_of(problem.jacobian(x)))) if x.size else x
    out = []
    for p, at, s in zip(problem.parameters, x, spread, strict=True):
        value, half = p.start + float(at) * p.scale, times * float(s) * p.scale
        out.append(Fitted(parameter=p, value=value, interval=(max(value - half, p.low), min(value + half, p.high))))
    return Fit(fitted=tuple(out[:asked]), doubts=tuple(out[asked:]), refused=tuple(refused),
               predicted=levelled(problem.readings, predicted), chi_square=chi2, freedom=freedom, widened=widened)
