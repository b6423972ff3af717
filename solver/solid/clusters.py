r"""Sums over many point charges by clusters: those that are far away stand together for their box.

A box's charges q_i are replaced by P³ at its Chebyshev points, q_abc = Σ q_i ℓ_a(x_i) ℓ_b(y_i) ℓ_c(z_i): 1/|r − r'|
interpolated in r' over the box. Along an axis whose half length is a, seen from a distance d off its middle, the
error falls by (d/a + √(d²/a² − 1)) with every point. Boxes are halved along their longest side until they are far
enough away for that, or hold no more charges than points.

References
----------
Boxes and interpolation: W. Fong, E. Darve, "The black-box fast multipole method", *J. Comput. Phys.* 228 (2009) 8712
(memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array

Numbers = npt.NDArray[np.inexact]

POINTS = 6
"""Along each side of a box, in place of its charges."""
FAR = 4.0
"""How far off a box's middle points are that its clusters serve, in half diagonals: 1e-6 of their field."""
_LEAST = 0.05  # of the longest side: no side of a box is taken as shorter
_GROUP = 128  # points at most that see the same clusters
_LEAF = 2 * POINTS**3  # charges that are not worth replacing
_ALL, _NONE = {True}, {False}
_POINTS = np.cos(np.pi * (np.arange(POINTS) + 0.5) / POINTS)
_WEIGHTS = (-1.0) ** np.arange(POINTS) * np.sin(np.pi * (np.arange(POINTS) + 0.5) / POINTS)


@dataclass(frozen=True, kw_only=True)
class Beside:
    """Charges whose y is nearer to `middle` than `reach`, or with `inside` false all others; m."""

    middle: float
    reach: float
    inside: bool

    def of(self, y: Array) -> npt.NDArray[np.bool_]:
        """Which of these count."""
        return np.asarray((np.abs(y - self.middle) < self.reach) == self.inside)

    def among(self, low: float, high: float) -> set[bool]:
        """Whether some in a box between these count, and whether some do not."""
        nearest = min(max(self.middle, low), high)
        return {(abs(y - self.middle) < self.reach) == self.inside for y in (low, nearest, high)}


@dataclass(frozen=True, kw_only=True, eq=False)
class Clusters:
    """Charges of several excitations at common places, in a box that halves itself.

    Attributes
    ----------
    places : array (3, n)
        m.
    values : array (k, n)
        A·m.
    """

    places: Array
    values: Numbers

    @cached_property
    def _ends(self) -> tuple[Array, Array]:
        return self.places.min(axis=1), self.places.max(axis=1)

    @cached_property
    def _box(self) -> tuple[list[float], float, float, float]:
        """Middle, how far off clusters serve, and the ends across: numbers, for boxes are asked by the thousand."""
        low, high = self._ends
        return ((low + high) / 2).tolist(), FAR * float(np.linalg.norm(high - low)) / 2, float(low[1]), float(high[1])

    @cached_property
    def _halves(self) -> tuple[Clusters, ...]:
        low, high = self._ends
        if self.places.shape[1] <= _LEAF:
            return ()
        side = int(np.argmax(high - low))
        if high[side] == low[side]:
            return ()
        upper = self.places[side] > (low[side] + high[side]) / 2
        return tuple(Clusters(places=self.places[:, one], values=self.values[:, one]) for one in (~upper, upper))

    @cached_property
    def _together(self) -> tuple[Array, Numbers]:
        """What stands for them: places (3, m) and values (k, m)."""
        if self.places.shape[1] <= _LEAF:
            return self.places, self.values
        low, high = self._ends
        half = np.maximum((high - low) / 2, _LEAST * (high - low).max() / 2)
        middle = (low + high) / 2
        x, y, z = (_shares((r - m) / h) for r, m, h in zip(self.places, middle, half, strict=True))
        both = (x[:, :, None] * y[:, None, :]).reshape(x.shape[0], -1)
        values = np.stack([(both.T @ (v[:, None] * z)).ravel() for v in self.values])
        nodes = np.stack(np.meshgrid(*(m + h * _POINTS for m, h in zip(middle, half, strict=True)), indexing="ij"))
        return nodes.reshape(3, -1), values

    def seen(self, points: Array, beside: Beside) -> Iterator[tuple[npt.NDArray[np.int64], Array, Numbers]]:
        """Groups of points, and what serves each.

        Parameters
        ----------
        points : array (3, p)
            m.
        beside : Beside
            Which of the charges count.

        Yields
        ------
        (int array (q,), array (3, m), array (k, m))
            Which points, and the charges that stand for all.
        """
        for group in _grouped(points):
            own = points[:, group]
            found = [(np.zeros((3, 0)), self.values[:, :0])]
            self._serve(own.min(axis=1).tolist(), own.max(axis=1).tolist(), beside, found)
            yield group, np.concatenate([p for p, _ in found], axis=1), np.concatenate([v for _, v in found], axis=1)

    def _serve(self, low: list[float], high: list[float], beside: Beside,
               found: list[tuple[Array, Numbers]]) -> None:
        if not self.places.size:
            return
        middle, far, first, last = self._box
        counts = beside.among(first, last)
        if counts == _NONE:
            return
        away = [max(a - m, m - b, 0.0) for a, m, b in zip(low, middle, high, strict=True)]
        if counts == _ALL and away[0]**2 + away[1]**2 + away[2]**2 > far**2:
            found.append(self._together)
        elif self._halves:
            for part in self._halves:
                part._serve(low, high, beside, found)
        elif counts == _ALL:
            found.append((self.places, self.values))
        else:
            mine = beside.of(self.places[1])
            found.append((self.places[:, mine], self.values[:, mine]))


def _grouped(points: Array) -> Iterator[npt.NDArray[np.int64]]:
    waiting = [np.arange(points.shape[1])]
    while waiting:
        group = waiting.pop()
        if group.size <= _GROUP:
            if group.size:
                yield group
            continue
        own = points[:, group]
        side = int(np.argmax(np.ptp(own, axis=1)))
        order = np.argsort(own[side], kind="stable")
        waiting += [group[order[:group.size // 2]], group[order[group.size // 2:]]]


def _shares(at: Array) -> Array:
    """The interpolating polynomials (n, P) at places (n,) between −1 and 1."""
    apart = at[:, None] - _POINTS
    same = apart == 0.0
    apart[same] = 1.0
    terms = _WEIGHTS / apart
    out = terms / terms.sum(axis=1, keepdims=True)
    hit = same.any(axis=1)
    out[hit] = same[hit]
    return np.asarray(out)
