"""Numbers about a scatter: its spread, whose fault it is, and shares with their intervals.

Importance is by Sobol's indices over groups of numbers, with y = f(u), u even and independent::

    first   Var(E[y | u_group]) / Var(y)         what would go if the group were exact
    total   1 − Var(E[y | all others]) / Var(y)  what would be left if all others were exact

estimated from two samples A, B and, for every group, A with the group's columns of B (Saltelli et al., *Comput. Phys.
Commun.* 181 (2010) 259), and their error by drawing the sample again from itself (bootstrap).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.stats import binomtest, qmc, sobol_indices

from stringflux.geometry.arrays import Array

Response = Callable[[Array], Array]
"""From numbers (n, size) even on (0, 1) to quantities (n, quantities)."""

RESAMPLES = 100
CONFIDENCE = 0.95
_EDGE = 1e-12  # a normal has no value at 0 or 1


@dataclass(frozen=True, kw_only=True)
class Spread:
    """How a quantity scatters; SI.

    Attributes
    ----------
    mean, deviation : float
        Mean and standard deviation.
    low, high : float
        Quantiles of 5 and 95 %.
    """

    mean: float
    deviation: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Importance:
    """Sobol's indices of one quantity by group, with the ends of their 95 % intervals.

    Attributes
    ----------
    first, total : mapping of str to (float, float, float)
        Index and the ends of its interval.
    """

    first: Mapping[str, tuple[float, float, float]]
    total: Mapping[str, tuple[float, float, float]]


@dataclass(frozen=True, kw_only=True)
class Share:
    """A share of pickups with its exact (Clopper–Pearson) 95 % interval."""

    count: int
    of: int
    low: float
    high: float

    @property
    def value(self) -> float:
        return self.count / self.of if self.of else np.nan


def sobol_sample(count: int, size: int, seed: int) -> Array:
    """Low-discrepancy numbers (count, size) in (0, 1), scrambled; even for a power of two, its first part else."""
    power = max(count - 1, 0).bit_length()
    points = qmc.Sobol(size, rng=np.random.default_rng(seed)).random_base2(power)[:count]
    return np.clip(points, _EDGE, 1 - _EDGE)


def spread_of(values: Array) -> Spread:
    """Of a sample.

    Examples
    --------
    >>> round(spread_of(np.linspace(0.0, 1.0, 101)).high, 9)
    0.95
    """
    low, high = np.quantile(values, (0.05, 0.95))
    return Spread(mean=float(np.mean(values)), deviation=float(np.std(values, ddof=1)), low=float(low),
                  high=float(high))


def importance_of(response: Response, groups: Mapping[str, Sequence[int]], *, count: int,
                  seed: int) -> tuple[Importance, ...]:
    """Sobol's indices of every quantity of `response`.

    Parameters
    ----------
    response : callable
    groups : mapping of str to sequence of int
        Columns by the name of their group; together all columns.
    count : int
        Of samples A and B, a power of two; `response` is asked for (groups + 2) · count rows.
    seed : int
    """
    size = sum(len(columns) for columns in groups.values())
    both = sobol_sample(count, 2 * size, seed)
    a, b = both[:, :size], both[:, size:]
    f_a, f_b, f_ab = response(a), response(b), []
    for columns in groups.values():
        mixed = a.copy()
        mixed[:, list(columns)] = b[:, list(columns)]
        f_ab.append(response(mixed))
    return tuple(_indices(f_a[:, q], f_b[:, q], np.stack([f[:, q] for f in f_ab]), tuple(groups), seed)
                 for q in range(f_a.shape[1]))


def _indices(f_a: Array, f_b: Array, f_ab: Array, names: Sequence[str], seed: int) -> Importance:
    if np.ptp(f_a) <= 1e-12 * np.max(np.abs(f_a)):  # nothing moves it
        nothing = dict.fromkeys(names, (0.0, 0.0, 0.0))
        return Importance(first=nothing, total=nothing)
    middle = np.mean(f_a)  # the estimators lose digits to a large mean
    f_a, f_b, f_ab = f_a - middle, f_b - middle, f_ab - middle
    # the sample as it is and as drawn from itself, all at once as so many quantities
    drawn = np.random.default_rng(seed).integers(f_a.size, size=(RESAMPLES, f_a.size))
    rows = np.concatenate([np.arange(f_a.size)[None], drawn])
    found = sobol_indices(func={"f_A": f_a[rows], "f_B": f_b[rows], "f_AB": f_ab[:, rows]}, n=f_a.size)
    first, total = (np.reshape(index, (RESAMPLES + 1, len(names)))  # scipy drops the axis of a single group
                    for index in (found.first_order, found.total_order))
    return Importance(first=_by_name(first, names), total=_by_name(total, names))


def _by_name(index: Array, names: Sequence[str]) -> dict[str, tuple[float, float, float]]:
    """Estimate and interval of each group from an index (1 + resamples, groups)."""
    low, high = np.quantile(index[1:], ((1 - CONFIDENCE) / 2, (1 + CONFIDENCE) / 2), axis=0)
    return {name: (float(i), float(lo), float(hi))
            for name, i, lo, hi in zip(names, index[0], low, high, strict=True)}


def share_of(inside: npt.NDArray[np.bool_]) -> Share:
    """The share of True.

    Examples
    --------
    >>> made = share_of(np.arange(100) < 90)
    >>> made.value, round(made.low, 3), round(made.high, 3)
    (0.9, 0.824, 0.951)
    """
    count, of = int(np.sum(inside)), int(np.size(inside))
    if of == 0:
        return Share(count=0, of=0, low=0.0, high=1.0)
    interval = binomtest(count, of).proportion_ci(CONFIDENCE, method="exact")
    return Share(count=count, of=of, low=float(interval.low), high=float(interval.high))
