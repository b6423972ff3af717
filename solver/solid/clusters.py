r"""Sums over many point charges by clusters: those that are far away stand together for their box.

A box's charges are replaced by `STANDING` others at fixed places on a sphere, by least squares of the potential on a
larger one. They give the orders of the field below √`STANDING`; of what order n is at half a diagonal a from the
middle of the box, (a/d)ⁿ⁺² is left at a distance d. Boxes are halved along their longest side until they are far
enough away for that, or hold few charges. Where a box that has halves is replaced, what stands for the halves stands
for its charges.

References
----------
Charges that stand for a box's, from its potential on a larger surface: L. Ying, G. Biros, D. Zorin, "A
kernel-independent adaptive fast multipole algorithm", *J. Comput. Phys.* 196 (2004) 591 (memory). Places
evenly over a sphere: on a spiral by the golden angle (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array

Numbers = npt.NDArray[np.inexact]

STANDING = 100
"""Charges in place of all of a box."""
FAR = 4.0
"""How far off a box's middle points are that its clusters serve, in half diagonals: 3e-8 to 7e-6 of the greatest
field of a box there, and 1e-5 where one 20 times as long as wide has both signs along its sides."""
_INNER, _OUTER = 0.7, 3.0  # half diagonals: the spheres of the charges that stand for a box, and of the potential
_GROUP = 128  # points at most that see the same clusters
_LEAF = 2 * STANDING  # charges that are not worth replacing
_ALL, _NONE = {True}, {False}


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
        if not self._halves:
            return self.places, self.values
        places, values = (np.concatenate(parts, axis=1)
                          for parts in zip(*(half._together for half in self._halves), strict=True))
        low, high = self._ends
        middle, half = ((low + high) / 2)[:, None], float(np.linalg.norm(high - low)) / 2
        inner, outer, from_potential = _spheres()
        return middle + half * inner, half * (values @ potentials(places, middle + half * outer)) @ from_potential

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


def potentials(places: Array, points: Array) -> Array:
    """1/(4πR) from charges at points (3, p) at places (3, n), (n, p)."""
    middle = places.mean(axis=1, keepdims=True)
    a, b = places - middle, points - middle
    out = np.stack([*(-2 * a), np.ones(a.shape[1]), np.sum(a * a, axis=0)], axis=1) @ np.stack(
        [*b, np.sum(b * b, axis=0), np.ones(b.shape[1])])  # R² = a² − 2 a·b + b²
    np.sqrt(out, out=out)
    return np.asarray(np.divide(1 / (4 * np.pi), out, out=out))


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


@cache
def _spheres() -> tuple[Array, Array, Array]:
    """Places (3, m) and (3, n) about a box of half diagonal 1; (n, m): charges at the first from φ at the other."""
    inner, outer = _INNER * _evenly(STANDING), _OUTER * _evenly(2 * STANDING)
    return inner, outer, np.asarray(np.linalg.pinv(potentials(inner, outer)), dtype=float)


def _evenly(count: int) -> Array:
    """Places (3, count) on a sphere of radius 1."""
    index = np.arange(count) + 0.5
    up = 1 - 2 * index / count
    across, turn = np.sqrt(1 - up**2), np.pi * (1 + 5**0.5) * index
    return np.stack([across * np.cos(turn), across * np.sin(turn), up])
