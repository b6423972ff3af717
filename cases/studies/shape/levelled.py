r"""Strings brought to one level: Gauss–Newton steps within bounds.

Unevenness is the root of the mean of squares of the levels r (dB, from their mean). One look at the slopes J of every
string says more than a slope of unevenness alone does: the step d that

    minimises  |r + J d|² + (δ |J|)² |d|²   within the box and a trusted size of step

would level them at once if levels were straight in the lengths. Of many edges that would, δ takes the one next to
where the search is. A step that lowers |r| by too little of what was foretold, or to where the mesh cannot follow, is
taken anew at a part of its size.

References
----------
K. Levenberg, "A method for the solution of certain non-linear problems in least squares", *Quart. Appl. Math.* 2
(1944) 164 (memory). Bounds: `scipy.optimize.lsq_linear`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import lsq_linear

from stringflux.geometry.arrays import Array
from stringflux.solver.shape.following_mesh import FoldedMeshError

from .numerics import SHIPPED, SearchNumerics

OfStrings = Callable[[Array], Array]
_NEAR = 0.03  # δ
_ENOUGH, _WELL = 0.1, 0.7  # of what was foretold: a step that gains less is not taken; after more the next may grow
_CREEP = 0.05  # of the box: with smaller steps at the end of what a mesh can follow, that is made anew


@dataclass(frozen=True, kw_only=True, eq=False)
class Levelled:
    """Levels of strings from their mean as a function of lengths, and its slopes.

    Attributes
    ----------
    levels, slopes : callable
        Lengths (n,) to r (s,) in dB, and to ∂r (s, n); levels may raise :class:`FoldedMeshError`.
    """

    levels: OfStrings
    slopes: OfStrings


@dataclass(frozen=True, kw_only=True, eq=False)
class LevelledEnd:
    """Where it ended: x (n,), rms of r, accepted steps, and whether the mesh could follow no further."""

    x: Array
    rms: float
    steps: int
    stuck: bool


def levelled(of: Levelled, start: Array, low: Array, high: Array, *,
             numerics: SearchNumerics = SHIPPED) -> LevelledEnd:
    """Lower the rms of r until it is below `numerics.level`, or a step would gain less than that.

    Parameters
    ----------
    of : Levelled
        Of the unit box.
    start, low, high : arrays (n,)
        Part of the unit box to stay in.
    """
    x = np.clip(start, low, high)
    r, size, steps, stuck = of.levels(x), numerics.trusted, 0, False
    root = np.sqrt(r.size)
    while steps < numerics.iterations and np.linalg.norm(r) > numerics.level * root:
        J = of.slopes(x)
        taken = False
        while not taken:
            d = _step(r, J, np.maximum(low - x, -size), np.minimum(high - x, size))
            before, foretold = np.linalg.norm(r), np.linalg.norm(r + J @ d)
            longest = float(np.max(np.abs(d)))
            if before - foretold < numerics.level * root or longest < numerics.settled or (stuck and size < _CREEP):
                return LevelledEnd(x=x, rms=float(before / root), steps=steps, stuck=stuck and longest > 0.9 * size)
            try:
                now = of.levels(x + d)
            except FoldedMeshError:
                stuck, size = True, numerics.shrink * longest
                continue
            share = (before - np.linalg.norm(now)) / (before - foretold)
            taken = bool(share > _ENOUGH)
            size = 2 * size if share > _WELL and not stuck else size if taken else longest / 3
        x, r, steps = x + d, now, steps + 1
    return LevelledEnd(x=x, rms=float(np.linalg.norm(r) / root), steps=steps, stuck=False)


def _step(r: Array, J: Array, low: Array, high: Array) -> Array:
    """The step within bounds; a length without room stays."""
    free = high - low > 0
    d = np.zeros(J.shape[1])
    if free.any():
        held = _NEAR * float(np.linalg.norm(J[:, free], 2)) * np.eye(int(free.sum()))
        found = lsq_linear(np.concatenate([J[:, free], held]), np.concatenate([-r, np.zeros(len(held))]),
                           (low[free], high[free]), method="bvls")
        d[free] = np.clip(found.x, low[free], high[free])
    return d
