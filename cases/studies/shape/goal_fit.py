"""The front of a form of one or two lengths: its goals fitted once over the whole range, then searched in the fit.

A front asks for the same few lengths again and again. So the goals are solved once on a grid of shapes, each on a
mesh of its own, and fitted by Chebyshev polynomials with fewer coefficients than shapes: what a mesh adds by chance
is smoothed out, slopes are closed forms, and a point of the front costs next to nothing. Every point is then solved;
what the fit misses there shifts it, and the point is sought once more in the shifted fit.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.polynomial import chebyshev

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError, SolveError

from .methods import Evaluate, Search, SearchEnd, lowest
from .numerics import SHIPPED, SearchNumerics

MOST = 2  # lengths of a form that is fitted


@dataclass(frozen=True, kw_only=True, eq=False)
class GoalFit:
    """Goals over the unit box.

    Attributes
    ----------
    grid : array (s, n)
        The shapes that were solved.
    coefficients : array (goals, d, …)
    scatter : array (goals,)
        Rms distance of the solved shapes from the fit.
    """

    grid: Array
    coefficients: Array
    scatter: Array

    def values(self, x: Array) -> Array:
        """Goals (m,) at x (n,)."""
        return np.array([_at(c, x) for c in self.coefficients])

    def slopes(self, x: Array) -> Array:
        """∂goal/∂x (m, n)."""
        # the polynomials run over −1…1
        return 2 * np.array([[_at(chebyshev.chebder(c, axis=j), x) for j in range(x.size)]
                             for c in self.coefficients])

    def shifted(self, by: Array) -> Evaluate:
        """Values with `by` (m,) added, and slopes."""
        return lambda x: (self.values(x) + by, self.slopes(x))


def fitted(solve: Callable[[Array], Array], n: int, report: Callable[[int, int], None],
           numerics: SearchNumerics = SHIPPED) -> GoalFit:
    """Solve the grid and fit.

    Parameters
    ----------
    solve : callable
        x (n,) in the unit box to goals (m,).
    n : int
        Lengths, at most `MOST`.
    report : callable
        Told how many shapes are solved, and of how many.
    numerics : SearchNumerics

    Raises
    ------
    CaseError
        When too few of the shapes can be solved.
    """
    places, degree = numerics.places[n - 1], numerics.degree[n - 1]
    nodes = (1 - np.cos(np.pi * np.arange(places) / (places - 1))) / 2
    grid = np.stack([axis.ravel() for axis in np.meshgrid(*[nodes] * n, indexing="ij")], axis=-1)
    solved, goals, failure = [], [], None
    for i, x in enumerate(grid):
        report(i, len(grid))
        try:
            goals.append(solve(x))
            solved.append(x)
        except (CaseError, SolveError) as error:  # a corner of the range that cannot be meshed or settled
            failure = error
    unknowns = (degree + 1) ** n
    if failure is not None and len(solved) < 1.3 * unknowns:
        raise CaseError(f"--form: of {len(grid)} shapes over its range only {len(solved)} can be solved ({failure})")
    of = _columns(np.array(solved), degree)
    right = np.array(goals)
    found, *_ = np.linalg.lstsq(of, right, rcond=None)
    scatter = np.sqrt(np.sum((of @ found - right) ** 2, axis=0) / max(len(solved) - unknowns, 1))
    return GoalFit(grid=np.array(solved), scatter=scatter,
                   coefficients=np.asarray(found.T.reshape(-1, *[degree + 1] * n), float))


def best_of_fit(fit: GoalFit, search: Search, near: Array, goal: int, ceiling: float | None, by: Array) -> SearchEnd:
    """The best of a shifted fit under the search's limits, from several starts, `near` one of them."""
    search = Search(evaluate=fit.shifted(by), limits=search.limits, low=search.low, high=search.high,
                    safe=search.safe, numerics=search.numerics)
    dense = np.stack([axis.ravel() for axis in np.meshgrid(*[np.linspace(0, 1, 25)] * near.size)], axis=-1)
    dense = np.array([x for x in dense if search.kept(x)]).reshape(-1, near.size)
    goals = np.array([fit.values(x) + by for x in dense]).reshape(-1, by.size)
    allowed = np.ones(len(dense), bool) if ceiling is None else goals[:, 1 - goal] <= ceiling
    order = np.argsort(np.where(allowed, goals[:, goal], np.inf))[:min(search.numerics.starts, int(allowed.sum()))]
    ended = [lowest(search, start, goal, ceiling) for start in [near, *dense[order]]]
    slack = 1e-6 if ceiling is None else 1e-6 + ceiling
    good = [f for f in ended if ceiling is None or f.goals[1 - goal] <= slack] or ended
    return min(good, key=lambda f: float(f.goals[goal]))


def unsettled(before: Array, after: Array, settled: float = SHIPPED.settled) -> bool:
    """Whether a point moved enough to be worth another solve."""
    return bool(np.max(np.abs(after - before)) > settled)


def _at(c: Array, x: Array) -> float:
    t = 2 * x - 1
    return float(chebyshev.chebval(t[0], c) if x.size == 1 else chebyshev.chebval2d(t[0], t[1], c))


def _columns(x: Array, degree: int) -> Array:
    t = 2 * x - 1
    return np.asarray(chebyshev.chebvander(t[:, 0], degree) if x.shape[1] == 1
                      else chebyshev.chebvander2d(t[:, 0], t[:, 1], [degree, degree]))
