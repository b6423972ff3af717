r"""The field of magnetised bodies at any points, from their magnetisation and not from ∇φ there.

With q_i = ∫ M·∇w_i over the bodies, the volume integral of M becomes a sum over the unknowns,

    H(r) = 1/4π Σ q_i (r − r_i)/|r − r_i|³

(1/|r − r'| interpolated in the P2 space of the bodies). It is smooth and has no divergence wherever r is at least
an element or so away from the bodies; the elements' gradients of φ jump from one to the next.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array

from .clusters import Beside, Clusters
from .space import SolidSpace

Numbers = npt.NDArray[np.inexact]

_POINTS, _CHARGES = 100, 500  # at once: what fits into a core's own memory
_MANY = 2_000_000  # pairs of charge and point from which on clusters pay
_LOST = 2e-5  # of Σ|q|: the smallest charges, inside bodies where div M is nothing but noise, that are left out


@dataclass(frozen=True, kw_only=True, eq=False)
class Charges:
    """Point charges of several excitations at common places.

    Attributes
    ----------
    places : array (3, n)
        m.
    values : array (k, n)
        A·m, by excitation; complex with eddy currents.
    kept : dict
        What was summed of them, by those who asked.
    """

    places: Array
    values: Numbers
    kept: dict[object, Any] = field(default_factory=dict, repr=False)

    def field(self, points: Array) -> Numbers:
        """H (k, 3, p) in A/m at points (3, p); complex if the values are."""
        return _summed(self.places, self.values, points)

    def potential_and_field(self, points: Array) -> tuple[Numbers, Numbers]:
        """φ (k, p) in A at points (3, p), and H (k, 3, p) = −∇φ."""
        return _potential_and_field(self.places, self.values, points)

    def beside(self, points: Array, some: Beside) -> Numbers:
        """The same of those beside a plane, far ones by clusters where there are many: to some 1e-6 of the field."""
        if self.places.shape[1] * points.shape[1] < _MANY:
            mine = some.of(self.places[1])
            return _summed(self.places[:, mine], self.values[:, mine], points)
        out = np.zeros((len(self.values), *points.shape), dtype=np.result_type(self.values, float))
        for few, places, values in self._clusters.seen(points, some):
            out[:, :, few] = _summed(places, values, points[:, few])
        return out

    @property
    def _clusters(self) -> Clusters:
        found: Clusters = self.kept.setdefault("clusters", Clusters(places=self.places, values=self.values))
        return found

    def where(self, mask: Array) -> Charges:
        """Some of them."""
        return Charges(places=self.places[:, mask], values=self.values[:, mask])


def _summed(places: Array, values: Numbers, points: Array) -> Numbers:
    """H (k, 3, p), each charge by itself."""
    return _potential_and_field(places, values, points, alone=True)[1]


def _potential_and_field(places: Array, values: Numbers, points: Array,
                         alone: bool = False) -> tuple[Numbers, Numbers]:
    """φ (k, p), 0 if the field `alone` is wanted, and H (k, 3, p), each charge by itself."""
    p = points.shape[1]
    centre = places.mean(axis=1, keepdims=True) if places.size else np.zeros((3, 1))
    places, r = places - centre, points - centre
    # Σ q (r − r')/R³ = r Σ q/R³ − Σ q r'/R³: one product of matrices; R² = r² − 2 r·r' + r'² another
    columns = np.ascontiguousarray(values.T).view(float)  # a complex one is two
    here = np.stack([*(-2 * r), np.ones(p), np.sum(r * r, axis=0)], axis=1)
    there = np.stack([*places, np.sum(places * places, axis=0), np.ones(places.shape[1])])
    potential = np.zeros((p, columns.shape[1]))
    sums = np.zeros((p, 4 * columns.shape[1]))
    for some in blocks(places.shape[1], _CHARGES):
        beside, q = np.ascontiguousarray(there[:, some]), columns[some]
        own = np.concatenate([q, *(q * along[:, None] for along in places[:, some])], axis=1)
        for few in blocks(p, _POINTS):
            kernel = here[few] @ beside
            root = np.sqrt(kernel)
            if alone:
                kernel *= root
                np.divide(1.0, kernel, out=kernel)  # np.reciprocal takes twice as long
            else:
                np.divide(1.0, root, out=root)
                potential[few] += root @ q
                np.divide(root, kernel, out=kernel)
            sums[few] += kernel @ own
    kind = values.dtype if np.iscomplexobj(values) else float
    found = sums.reshape(p, 4, columns.shape[1]).view(kind).transpose(2, 1, 0)
    H = (r * found[:, :1] - found[:, 1:]) / (4 * np.pi)
    return potential.view(kind).T / (4 * np.pi), np.asarray(H)


def blocks(count: int, size: int) -> list[slice]:
    """Slices of `size` that make up `count`."""
    return [slice(first, first + size) for first in range(0, count, size)]


def negligible(values: Numbers) -> npt.NDArray[np.bool_]:
    """Which of the charges (k, n) may be left out."""
    size = np.abs(values)
    order = np.sort(size, axis=1)
    below = np.cumsum(order, axis=1) <= _LOST * size.sum(axis=1, keepdims=True)
    least = np.min(order, axis=1, initial=np.inf, where=~below, keepdims=True)
    return np.asarray(size < least)


def unfolded(space: SolidSpace, values: Numbers, odd: tuple[tuple[int, ...], ...]) -> Charges:
    """The charges of the whole build.

    Parameters
    ----------
    values : array (k, unknowns)
        Of the meshed piece, by excitation.
    odd : tuple of tuples
        For each excitation the planes about which it is odd.
    """
    used = np.flatnonzero(~np.all(negligible(values), axis=0))
    places, out = space.nodes[:, used], values[:, used]
    for axis in space.mesh.symmetry.axes:
        image = places.copy()
        image[axis] *= -1
        sign = np.array([-1.0 if axis in planes else 1.0 for planes in odd])[:, None]
        places, out = np.concatenate([places, image], axis=1), np.concatenate([out, sign * out], axis=1)
    return Charges(places=places, values=out)
