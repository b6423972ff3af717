r"""The field of bars of finite length from charges on a few lines in them, in closed form along y.

A part's charges are handed from its unknowns to Chebyshev lines in its bounding box by interpolating 1/R there; a
point a clear distance away sees the same. With the jumps c_s of the charge along each line (:mod:`.bar_lines`),
d² = (x − x_n)² + (z − z_n)² and s = y − y_j::

    φ = (1/4π) Σ_n Σ_j c₀/R + c₁ asinh(s/d) + c₂ (s asinh(s/d) − R)
    H_xz = (1/4π) Σ (t − t_n) [c₀/R³ + c₁ s/(d² R) + c₂ R/d²]
    H_y = (1/4π) Σ c₀ s/R³ − c₁/R − c₂ asinh(s/d)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

from .bar_lines import Along
from .rings import chebyshev, lagrange

_CLEAR = 1.5e-3  # metres: as near as strings come
_FEWEST = 2
_PER = 4.0  # lines per root of half an extent over that: 1/R is then right to some 1e-4
_BLOCK = 1_500_000


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
    """H (excitations, 3, p) of charges that share their lines and places along y."""
    lines, places = several[0].lines, several[0].along.places
    out = np.zeros((len(several), 3, points.shape[1]))
    for block in _blocks(points.shape[1], lines.shape[1] * places.size):
        t = points[:, block]
        dx, dz = t[0][:, None] - lines[0], t[2][:, None] - lines[1]
        d2 = dx * dx + dz * dz
        s = t[1][:, None] - places
        R = np.sqrt(d2[:, :, None] + (s * s)[:, None, :])
        inverse, logs = 1 / R, np.arcsinh(s[:, None, :] / np.sqrt(d2)[:, :, None])
        along = s[:, None, :] * inverse
        for i, charges in enumerate(several):
            c0, c1, c2 = charges.along.jumps
            radial = (_summed(R, c2) + _summed(along, c1)) / d2
            up = -np.sum(_summed(inverse, c1) + _summed(logs, c2), axis=1)
            on = np.flatnonzero(np.any(c0 != 0, axis=0))
            if on.size:
                square = inverse[:, :, on] ** 2
                radial += _summed(square * inverse[:, :, on], c0[:, on])
                up += np.sum(_summed(square * along[:, :, on], c0[:, on]), axis=1)
            out[i, 0, block], out[i, 2, block] = np.sum(radial * dx, axis=1), np.sum(radial * dz, axis=1)
            out[i, 1, block] = up
    return out / (4 * np.pi)


def _summed(kernel: Array, c: Array) -> Array:
    """Σ_j kernel c over (points, lines, places) and (lines, places)."""
    return np.asarray(np.matmul(np.moveaxis(kernel, 1, 0), c[:, :, None])[..., 0].T)


def _blocks(points: int, pairs: int) -> Iterator[slice]:
    step = max(1, _BLOCK // max(1, pairs))
    for first in range(0, points, step):
        yield slice(first, first + step)
