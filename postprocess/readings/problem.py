"""The least-squares problem of readings: what is unknown, weighted residuals, and their Jacobian.

Unknowns count in units of the half-width in which they are plausible, x = (θ − start)/scale; a doubt of the
prediction adds the row (θ − start)/σ.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from stringflux.geometry.arrays import Array

from .reading import Reading, residuals

_STEP, _SLOW_STEP, _STALE = 0.01, 0.05, 0.15  # of a plausible half-width


class Predictor(Protocol):
    """What the fit knows of a model."""

    def predict(self, readings: Sequence[Reading], state: Mapping[str, float]) -> Array:
        """Predicted values (n,), outputs without their level."""


@dataclass(frozen=True, kw_only=True)
class Parameter:
    """Something that is fitted.

    Attributes
    ----------
    name, words : str
        Its key in a state, and what a sentence calls it.
    start, scale : float
        Where the fit begins, and the half-width in which it is plausible.
    low, high : float
        Bounds.
    sigma : float or None
        Of a prior about `start`; None if nothing is assumed.
    slow : bool
        Whether a change of it costs a new bias.
    """

    name: str
    words: str
    start: float
    scale: float
    low: float
    high: float
    sigma: float | None = None
    slow: bool = False


class Problem:
    """Weighted residuals and their Jacobian, in units of plausible half-widths."""

    def __init__(self, model: Predictor, readings: Sequence[Reading], parameters: Sequence[Parameter]) -> None:
        self.model, self.readings, self.parameters = model, tuple(readings), tuple(parameters)
        self._slow: tuple[Array, Array] | None = None

    def state(self, x: Array) -> dict[str, float]:
        return {p.name: p.start + float(v) * p.scale for p, v in zip(self.parameters, x, strict=True)}

    def bounds(self) -> tuple[Array, Array]:
        return (np.array([(p.low - p.start) / p.scale for p in self.parameters]),
                np.array([(p.high - p.start) / p.scale for p in self.parameters]))

    def data(self, x: Array) -> Array:
        """(reading − predicted)/u, (n,)."""
        return residuals(self.readings, self.model.predict(self.readings, self.state(x)))

    def prior_rows(self) -> Array:
        rows = np.array([0.0 if p.sigma is None else p.scale / p.sigma for p in self.parameters])
        return np.diag(rows)[rows > 0]

    def __call__(self, x: Array) -> Array:
        return np.concatenate([self.data(x), self.prior_rows() @ x])

    def jacobian(self, x: Array) -> Array:
        """∂residual/∂x; columns that cost a bias are kept until their parameters have moved."""
        slow = [k for k, p in enumerate(self.parameters) if p.slow]
        quick = [k for k in range(len(self.parameters)) if k not in slow]
        J = np.zeros((len(self.readings), len(self.parameters)))
        J[:, quick] = self._columns(x, quick, _STEP, both=True)
        if slow:
            if self._slow is None or np.max(np.abs(self._slow[0] - x[slow])) > _STALE:
                self._slow = x[slow].copy(), self._columns(x, slow, _SLOW_STEP, both=False)
            J[:, slow] = self._slow[1]
        return np.vstack([J, self.prior_rows()])

    def _columns(self, x: Array, which: Sequence[int], step: float, both: bool) -> Array:
        """Differences to both sides, or to the one that has room."""
        low, high = self.bounds()
        here = None if both else self.data(x)
        out = np.empty((len(self.readings), len(which)))
        for column, k in enumerate(which):
            up, down = x.copy(), x.copy()
            up[k], down[k] = min(x[k] + step, high[k]), max(x[k] - step, low[k])
            if here is None:
                out[:, column] = (self.data(up) - self.data(down)) / (up[k] - down[k])
                continue
            one = up if up[k] - x[k] > step / 2 else down
            out[:, column] = (self.data(one) - here) / (one[k] - x[k])
        return out


def prediction_doubt(model: Predictor, readings: Sequence[Reading], doubts: Sequence[Parameter]) -> Array:
    """One σ of each prediction from the doubts, in the readings' units, (n,)."""
    if not doubts:
        return np.zeros(len(readings))
    problem = Problem(model, readings, doubts)
    J = problem.jacobian(np.zeros(len(doubts)))[: len(readings)]
    sigma = np.array([(p.sigma or 0.0) / p.scale for p in doubts])
    u = np.array([r.uncertainty for r in readings])
    return np.asarray(np.sqrt(np.sum((J * sigma) ** 2, axis=1)) * u)
