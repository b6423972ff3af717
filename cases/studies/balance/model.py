r"""The smooth model of the levels that a step of the balance goes by.

About the setting x_k, where levels L_k are exact, with the curve c_i of string i over its own gap g_i::

    L_i(x) = L_k,i + c_i(g_i(x)) − c_i(g_i(x_k)) + Σ_j C_ij (x_j − x_k,j)

The curve is taken in a row that stays as it is. C holds the rest of what a moved pole does: it changes its place
in the coil and what it gives its neighbours. C starts at 0 and is learned from each exact answer by Broyden's
update, the smallest change of C that explains what the model missed by (m)::

    C_i ← C_i + m_i W_i s/(sᵀ W_i s + τ²),     W_ij = exp(−3 |y_i − y_j|/pitch)

smallest when a pole's part is the dearer the further it is from the string. Steps well under τ = 0.1 mm teach
little: what the model misses by there is not C's. A side of the pickup moves strings through a row that stays, so its
columns of C stay 0.

The pull of a string falls with its gap. A limit on it becomes a least gap, found on the pull's own curve, which is
scaled to the exact value at x_k.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from stringflux.geometry.arrays import Array

from .levels import Curve, Measured
from .problem import SettingProblem

_TAU = 0.1e-3
SCANNED = 60  # gaps looked at for the pull's limit: it need not fall evenly


@dataclass(frozen=True, kw_only=True, eq=False)
class Model:
    """Levels about a setting.

    Attributes
    ----------
    problem : Problem
    curves : sequence of Curve (n)
    at : array (k,)
        x_k, m.
    measured : Measured
        What is exact there.
    cross : array (n, k)
        C, dB/m.
    """

    problem: SettingProblem
    curves: Sequence[Curve]
    at: Array
    measured: Measured
    cross: Array

    def levels(self, x: Array) -> Array:
        """L (n,), dB."""
        here, there = self.problem.gaps_at(self.at), self.problem.gaps_at(x)
        own = [c.level(float(b)) - c.level(float(a)) for c, a, b in zip(self.curves, here, there, strict=True)]
        return np.asarray(self.measured.level + own + self.cross @ (x - self.at))

    def slopes(self, x: Array) -> Array:
        """dL/dx (n, k), dB/m."""
        own = np.array([c.slope(float(g)) for c, g in zip(self.curves, self.problem.gaps_at(x), strict=True)])
        return np.asarray(own[:, None] * self.problem.gap_map + self.cross)

    def pulls(self, x: Array) -> Array:
        """Largest shift of each string, cent (n,)."""
        return np.array([self._pull(i, float(g)) for i, g in enumerate(self.problem.gaps_at(x))])

    def least_gaps(self, cents: float) -> Array:
        """For each string the gap from which on the pull stays below `cents`, m (n,)."""
        return np.array([self._least_gap(i, cents) for i in range(len(self.curves))])

    def learned(self, x: Array, measured: Measured, curves: Sequence[Curve] | None = None) -> Model:
        """The model about x after an exact answer there, by Broyden's update of C."""
        miss = measured.level - self.levels(x)
        blamed = self.problem.nearness * (x - self.at)
        cross = self.cross + (miss / (blamed @ (x - self.at) + _TAU**2))[:, None] * blamed
        return Model(problem=self.problem, curves=curves or self.curves, at=np.array(x), measured=measured,
                     cross=cross)

    def corrected(self, missing: Array) -> Model:
        """The model with so much more (n,) in dB/m put to what each string's own pole does."""
        cross = self.cross.copy()
        for j, unknown in enumerate(self.problem.unknowns):
            over = self.problem.own == unknown.number - 1
            if unknown.kind == "pole":
                cross[over, j] += missing[over]
        return Model(problem=self.problem, curves=self.curves, at=self.at, measured=self.measured, cross=cross)

    def _pull(self, i: int, gap: float) -> float:
        curve, exact = self.curves[i], self.measured.pull
        if curve.pull is None or exact is None:
            raise ValueError("no pull was asked for")
        here = float(self.problem.gaps_at(self.at)[i])
        return curve.pull(gap) * float(exact[i]) / curve.pull(here)

    def _least_gap(self, i: int, cents: float) -> float:
        curve = self.curves[i]
        gaps = np.linspace(curve.low, curve.high, SCANNED)
        over = np.array([self._pull(i, float(g)) for g in gaps]) - cents
        last = np.flatnonzero(over > 0)
        if last.size == 0:
            return curve.low
        k = int(last[-1])
        if k == SCANNED - 1:
            return curve.high
        return float(brentq(lambda g: self._pull(i, g) - cents, gaps[k], gaps[k + 1], xtol=1e-9))
