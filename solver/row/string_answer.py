"""The pole's answer to a string: what a pole does to a string's own field.

A charge Q of the string at (r, z, α) over a pole makes, at the pole's rings, potentials of order m that
live in a space of few dimensions. A basis U_m of it comes from the singular vectors of sampled charges;
W_m(r, z) are the coefficients of a unit charge, S_m the pole's answer to each basis potential (one
back-substitution each, symmetric). The answer's potential at x from a charge at x' is then

    G(x, x') = Σ_m c_m W_m(x)ᵀ S_m W_m(x') cos m(α − α'),     c_0 = 2π, c_m = π

which is symmetric, as reciprocity asks.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import NdBSpline
from scipy.linalg import block_diag

from stringflux.geometry.arrays import Array

from ..across import AcrossByModes
from ..seam import Across
from .numerics import SHIPPED, RowNumerics
from .ring_table import FieldTable
from .rings import Rings
from .small_signal import SmallSignalCell

_EVEN, _KEEP_HIGH = 3, 2e-4  # of singular values, what is kept of orders from which on all rings count alike
_LEAST = 1e-9  # of the largest potential: less is none


@dataclass(frozen=True, kw_only=True, eq=False)
class StringAnswer:
    """Modes of one pole shape.

    Attributes
    ----------
    modes : NdBSpline
        W of all orders as functions of (r, z), stacked.
    response : tuple of arrays
        S_m of each order, symmetric.
    """

    modes: NdBSpline
    response: tuple[Array, ...]

    @property
    def across(self) -> Across:
        """y counts."""
        return AcrossByModes(self)

    def factor(self, x: Array, y: Array, z: Array, mirrored: bool) -> Array:
        """F (…, n, k) with G = F S F'ᵀ for points relative to the pole's axis and face, arrays (…, n).

        With `mirrored` every charge also sits at −x: only cos mα is left, counted twice.
        """
        (w,) = self._evaluate(x, y, z, (0, 0))
        return self._columns(mirrored, [(w, cos, sin) for cos, sin in self._turns(np.arctan2(x, y))])

    def gradient(self, x: Array, y: Array, z: Array, mirrored: bool) -> tuple[Array, Array]:
        """∂F/∂y and ∂F/∂z, arrays (…, n, k): what dipoles across the string use.

        With y = r cos α: ∂_y = cos α ∂_r − (sin α / r) ∂_α.
        """
        w, wr, wz = self._evaluate(x, y, z, (0, 0), (1, 0), (0, 1))
        r, alpha = np.hypot(x, y), np.arctan2(x, y)
        turns, ca, sa = self._turns(alpha), np.cos(alpha), np.sin(alpha)
        far = r > 1e-6
        over_r = w * (1 / np.where(far, r, 1.0))[..., None]
        if not np.all(far):
            over_r = np.where(far[..., None], over_r, wr)
        dy = self._columns(mirrored, [(wr, ca * cos, ca * sin) for cos, sin in turns],
                           [(over_r, m * sa * sin, -m * sa * cos) for m, (cos, sin) in enumerate(turns)])
        return dy, self._columns(mirrored, [(wz, cos, sin) for cos, sin in turns])

    def _evaluate(self, x: Array, y: Array, z: Array, *derivatives: tuple[int, int]) -> list[Array]:
        at = np.stack([np.hypot(x, y).ravel(), z.ravel()], axis=-1)
        return [np.asarray(self.modes(at, nu=nu)).reshape(*x.shape, -1) for nu in derivatives]

    def _turns(self, alpha: Array) -> list[tuple[Array, Array]]:
        """cos mα and sin mα of all orders."""
        return [(np.cos(m * alpha), np.sin(m * alpha)) for m in range(len(self.response))]

    def _columns(self, mirrored: bool, *terms: Sequence[tuple[Array, Array, Array]]) -> Array:
        """Sums of terms: of each order m the values (…, modes of all orders), and what they are multiplied with (…)
        in its even columns and in its odd ones."""
        counts = [len(s) for s in self.response]
        total = sum(counts) if mirrored else 2 * sum(counts) - counts[0]
        out = np.empty((*terms[0][0][1].shape, total))
        first = to = 0
        for m, count in enumerate(counts):
            for odd in range(1 if m == 0 or mirrored else 2):
                mine = out[..., to:to + count]
                for k, term in enumerate(terms):
                    values, by = term[m][0][..., first:first + count], term[m][1 + odd][..., None]
                    if k == 0:
                        np.multiply(values, by, out=mine)
                    else:
                        mine += values * by
                to += count
            first += count
        return out

    def matrix(self, mirrored: bool) -> Array:
        """S (k, k) that goes with :meth:`factor`, block diagonal, the weights c_m included."""
        blocks = []
        for m, s in enumerate(self.response):
            weight = (2 * np.pi if m == 0 else np.pi) * (2.0 if mirrored else 1.0)
            blocks += [weight * s] * (1 if m == 0 or mirrored else 2)
        return np.asarray(block_diag(*blocks))


def string_answer(cell: SmallSignalCell, rings: Rings, table: FieldTable, orders: int, low: float,
                  numerics: RowNumerics = SHIPPED) -> StringAnswer:
    """Find the modes over heights ≥ low and the pole's answer to them."""
    modes, bases = string_modes(table, orders, low, numerics)
    response = []
    for m, U in enumerate(bases):
        spread = rings.spread[m] @ U
        S = spread.T @ cell.order(m).charges(spread)
        response.append((S + S.T) / 2)
    return StringAnswer(modes=modes, response=tuple(response))


def string_modes(table: FieldTable, orders: int, low: float,
                 numerics: RowNumerics = SHIPPED) -> tuple[NdBSpline, list[Array]]:
    """W of all orders as a spline, and the basis U_m of each at the rings, (rings, modes)."""
    modes, bases = [], []
    keep_z = table.z >= min(low, float(table.z[-2]))
    for m, kernel in enumerate(table.potentials(orders)):
        c = 2 * np.pi if m == 0 else np.pi
        potentials = kernel / (4 * np.pi * c)  # (nr, nz, K) of a unit charge
        samples = potentials[:, keep_z].reshape(-1, table.rings.r.size)
        # high orders are next to nothing near the axis, but r^m times a polynomial makes much of an error there
        norms = np.linalg.norm(samples, axis=0)
        scale = np.ones(norms.size) if m < _EVEN else np.maximum(norms, _LEAST * norms.max())
        samples = samples / scale
        square, vectors = np.linalg.eigh(samples.T @ samples)  # singular values squared, ascending
        least = numerics.modes if m < _EVEN else _KEEP_HIGH
        chosen = vectors[:, square > least**2 * square[-1]]
        bases.append(scale[:, None] * chosen)
        modes.append((potentials / scale) @ chosen)
    return table.spline(np.concatenate(modes, axis=-1)), bases
