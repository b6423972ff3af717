r"""The field of bars of finite length from charges on a few lines in them, in closed form along y.

A part's charges are handed from its unknowns to Chebyshev lines in its bounding box by interpolating 1/R there; a
point a clear distance away sees the same. With the jumps c_s of the charge along each line (:mod:`.along_y`),
d² = (x − x_n)² + (z − z_n)² and s = y − y_j::

    φ = (1/4π) Σ_n Σ_j c₀/R + c₁ asinh(s/d) + c₂ (s asinh(s/d) − R)
    H_xz = (1/4π) Σ (t − t_n) [c₀/R³ + c₁ s/(d² R) + c₂ R/d²]
    H_y = (1/4π) Σ c₀ s/R³ − c₁/R − c₂ asinh(s/d)

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.polynomial.chebyshev import chebvander

from stringflux.geometry.arrays import Array

from ..interpolation import chebyshev, lagrange
from .along_y import Along

_CLEAR = 1.5e-3  # metres: as near as strings come
_FEWEST = 2
_PER = 4.0  # lines per root of half an extent over that: 1/R is then right to some 1e-4
_BLOCK = 1_500_000
_LEAST = 1e-6  # metres, of d
_EDGE = 1e-6  # of ln d: so that a single d is a range too
_TERMS = 10  # of the interpolation in ln d: so many, and so many per unit of its range, leave out under 1e-8
_TERMS_PER = 6.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Lines:
    """Where the charges of one part go.

    Attributes
    ----------
    x, z : arrays (p,), (q,)
        The lines stand on the grid of both, m.
    """

    x: Array
    z: Array

    @property
    def places(self) -> Array:
        """x, z of every line, (2, p q)."""
        return np.stack(np.meshgrid(self.x, self.z, indexing="ij")).reshape(2, -1)

    def weights(self, nodes: Array) -> Array:
        """What each line takes of a charge at nodes (2, n): (lines, n)."""
        across, up = lagrange(self.x, nodes[0]), lagrange(self.z, nodes[1])
        return np.ascontiguousarray((across[:, :, None] * up[:, None, :]).reshape(nodes.shape[1], -1).T)


def lines_in(low: tuple[float, float], high: tuple[float, float], below: float = 0.0) -> Lines:
    """Lines in a part's bounding box from `low` to `high` (x, z), m, its top that much `below` the build's: fewer of
    them where strings are farther."""
    clear = _CLEAR + below / 2
    x, z = (chebyshev(a, b, _FEWEST + int(np.ceil(_PER * np.sqrt((b - a) / 2 / clear)))) for a, b in
            zip(low, high, strict=True))
    return Lines(x=x, z=z)


@dataclass(frozen=True, kw_only=True, eq=False)
class BarCharges:
    """Charges on lines of finite length.

    Attributes
    ----------
    lines : array (2, n)
        x, z, m.
    along : Along
        The charge along y on each line, A/m and, on end faces, A: a function for each line.
    """

    lines: Array
    along: Along

    def mirrored(self, sign: float) -> BarCharges:
        """Together with the images at −x, their charges times `sign`."""
        first, second, third = (np.concatenate([c, sign * c]) for c in self.along.jumps)
        return BarCharges(lines=np.concatenate([self.lines, self.lines * np.array([[-1.0], [1.0]])], axis=1),
                          along=Along(places=self.along.places, jumps=(first, second, third)))

    def field(self, points: Array) -> Array:
        """H (3, p) in A/m at points (3, p)."""
        return np.asarray(fields_of((self,), points)[0])


def fields_of(several: Sequence[BarCharges], points: Array) -> Array:
    """H (excitations, 3, p) of charges that share their lines and places along y.

    At one y each line makes two functions of d: they are summed over j at a few d, and interpolated in ln d.
    """
    lines, places = several[0].lines, several[0].along.places
    out = np.zeros((len(several), 3, points.shape[1]))
    if not points.shape[1]:
        return out
    at, where = sections(points)
    away = at[:, None, :] - lines[:, :, None]  # (2, lines, places)
    d2 = np.maximum(np.sum(away * away, axis=0), _LEAST**2)
    low, high = np.log(d2.min()) / 2 - _EDGE, np.log(d2.max()) / 2 + _EDGE
    terms = int(np.ceil(_TERMS + _TERMS_PER * (high - low)))
    u = chebyshev(-1.0, 1.0, terms)
    coefficients = np.asarray(np.linalg.inv(chebvander(u, terms - 1)), dtype=float)
    d = np.exp(low + (u + 1) / 2 * (high - low))
    order = np.argsort(where, kind="stable")
    for block in _blocks(order.size, lines.shape[1] * terms):
        mine = order[block]
        here, index = np.unique(where[mine], return_inverse=True)
        T = np.ascontiguousarray(chebvander((np.log(d2[:, here]) - 2 * low) / (high - low) - 1, terms - 1))
        aside = away[:, :, here] / d2[:, here]
        levels, level = np.unique(points[1, mine], return_inverse=True)
        for k, y in enumerate(levels):
            rows = np.flatnonzero(level.ravel() == k)
            of = index.ravel()[rows]
            found = T[:, of] @ (_along(several, d, y - places).transpose(2, 1, 0) @ coefficients.T).swapaxes(1, 2)
            found = found.reshape(*found.shape[:2], len(several), 2)
            for c in (0, 1):
                out[:, 2 * c, mine[rows]] = np.sum(aside[c][:, of, None] * found[..., 0], axis=0).T
            out[:, 1, mine[rows]] = found[..., 1].sum(axis=0).T
    return out / (4 * np.pi)


def sections(points: Array) -> tuple[Array, npt.NDArray[np.int64]]:
    """The different x, z (2, k) among points (3, n), and which of them each has (n,)."""
    at, which = np.unique(points[0] + 1j * points[2], return_inverse=True)  # sorted ten times as fast as columns
    return np.stack([at.real, at.imag]), np.asarray(which, dtype=np.int64)


def _along(several: Sequence[BarCharges], d: Array, s: Array) -> Array:
    """d² times the radial part, and the part along y, of every excitation: (d, 2 excitations, lines)."""
    R = np.hypot(d[:, None], s)
    inverse, logs, share = 1 / R, np.arcsinh(s / d[:, None]), s / R
    out = []
    for charges in several:
        c0, c1, c2 = (c.T for c in charges.along.jumps)
        radial, up = R @ c2 + share @ c1, -(inverse @ c1 + logs @ c2)
        on = np.flatnonzero(np.any(c0 != 0, axis=1))
        cube = inverse[:, on] ** 3
        out += [radial + (d[:, None] ** 2 * cube) @ c0[on], up + (s[on] * cube) @ c0[on]]
    return np.stack(out, axis=1)


def _blocks(points: int, pairs: int) -> Iterator[slice]:
    step = max(1, _BLOCK // max(1, pairs))
    for first in range(0, points, step):
        yield slice(first, first + step)
