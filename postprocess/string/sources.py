r"""Strings from further away: point charges q and dipoles p, several states at once.

    B = μ₀/4π Σ (q R/R³ + 3 (p·R) R/R⁵ − p/R³)

A string's charges are taken together over pieces as long as a share of the least distance that they are looked at
from, with what is left of their moment along the string as a dipole: what a piece a tenth of it long leaves out is as
the square of that.

References
----------
Fields of a charge and of a dipole: textbooks (memory). The pieces: derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.solver.constants import MU0

from .own_field import MagnetisedLine

PIECE = 0.1
"""Length of a piece over the least distance."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Sources:
    """Charges and dipoles in k states.

    Attributes
    ----------
    at : array (n, 3)
        Where they are, m.
    charge : array (n, k)
        A·m.
    dipole : array (n, k, 3)
        A·m².
    """

    at: Array
    charge: Array
    dipole: Array

    def field(self, points: Array) -> Array:
        """B (k, 3, p) in T at points (3, p), m."""
        P, a, q, p = points.T, self.at, self.charge, self.dipole
        square = sum(np.subtract.outer(P[:, i], a[:, i]) ** 2 for i in range(3))
        cube = 1 / (square * np.sqrt(square))
        fifth = cube / square
        pa = np.einsum("skj,sj->sk", p, a)
        here = P[:, None]  # Σ f(R) R = P Σ f − Σ f a, so that nothing but f is made for every pair
        out = here * _sum(cube, q)[..., None] - _sum(cube, q[..., None] * a[:, None]) - _sum(cube, p)
        inner = np.einsum("nkj,nj->nk", _sum(fifth, p), P) - _sum(fifth, pa)
        placed = (np.einsum("nkjl,nj->nkl", _sum(fifth, p[..., None] * a[:, None, None]), P)
                  - _sum(fifth, pa[..., None] * a[:, None]))
        out += 3 * (here * inner[..., None] - placed)
        return np.asarray(MU0 / (4 * np.pi) * np.moveaxis(out, 0, 2))


def _sum(f: Array, values: Array) -> Array:
    """Σ_s f (p, n) values (n, …): (p, …)."""
    return np.asarray((f @ values.reshape(len(values), -1)).reshape(len(f), *values.shape[1:]))


def sources(lines: Sequence[MagnetisedLine], distance: float) -> Sources:
    """Of one string, magnetised in k ways on the same nodes, looked at from a `distance` and more, m."""
    x, shape = lines[0].x, lines[0].shape
    path = np.hypot(1, shape.slope)
    middle, ell = (x[1:] + x[:-1]) / 2, np.diff(x)
    charge = np.stack([-np.diff(line.along) for line in lines], axis=1)
    across = np.stack([(line.across[:, 1:] + line.across[:, :-1]) / 2 * ell * path for line in lines])
    normal = across[:, 1] / path
    dipole = np.stack([-shape.slope * normal, across[:, 0], normal], axis=2)  # (k, n, 3)
    together = joined(middle, distance)
    # places go by the first state alone: its field is the same to the last digit whatever the others are
    weight = np.abs(charge[:, 0])
    weight += 1e-6 * np.max(weight) + 1e-30
    along = together @ (weight * middle) / (together @ weight)
    left = together @ (middle[:, None] * charge) - along[:, None] * (together @ charge)
    dipole = np.einsum("gn,knj->gkj", together, dipole) + left[..., None] * np.array([1.0, 0.0, shape.slope])
    at = np.stack([along, np.full_like(along, shape.y), shape.axis_height + shape.slope * along], axis=1)
    return Sources(at=at, charge=together @ charge, dipole=dipole)


def joined(middle: Array, distance: float) -> Array:
    """Which pieces (n,) go together seen from a distance, m: (groups, n) of ones and zeros."""
    which = np.unique(np.floor(middle / (PIECE * distance)), return_inverse=True)[1]
    return np.asarray((which == np.arange(which[-1] + 1)[:, None]).astype(float))


def all_of(every: Sequence[Sources]) -> Sources:
    """Several strings' sources as one; at least one."""
    return Sources(**{name: np.concatenate([getattr(one, name) for one in every])
                      for name in ("at", "charge", "dipole")})
