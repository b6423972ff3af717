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

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.spatial.distance import cdist

from stringflux.geometry.arrays import Array

from .space import SolidSpace

Numbers = npt.NDArray[np.inexact]

_AT_ONCE = 2_000_000  # pairs of points and charges
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
    """

    places: Array
    values: Numbers

    def field(self, points: Array) -> Numbers:
        """H (k, 3, p) in A/m at points (3, p); complex if the values are."""
        k, p = self.values.shape[0], points.shape[1]
        out = np.empty((k, 3, p), dtype=self.values.dtype)
        centre = self.places.mean(axis=1, keepdims=True) if self.places.size else np.zeros((3, 1))
        places = self.places - centre
        # Σ q (r − r')/R³ = r Σ q/R³ − Σ q r'/R³: one product of matrices
        weights = np.concatenate([self.values[:, None], self.values[:, None] * places], axis=1).reshape(4 * k, -1).T
        step = max(1, _AT_ONCE // max(1, places.shape[1]))
        for first in range(0, p, step):
            r = points[:, first:first + step] - centre
            kernel = cdist(r.T, places.T, "sqeuclidean")
            kernel *= np.sqrt(kernel)
            np.reciprocal(kernel, out=kernel)
            sums = (kernel @ weights).T.reshape(k, 4, -1)
            out[:, :, first:first + step] = r * sums[:, :1] - sums[:, 1:]
        return out / (4 * np.pi)

    def where(self, mask: Array) -> Charges:
        """Some of them."""
        return Charges(places=self.places[:, mask], values=self.values[:, mask])


def unfolded(space: SolidSpace, values: Numbers, odd: tuple[tuple[int, ...], ...]) -> Charges:
    """The charges of the whole build.

    Parameters
    ----------
    values : array (k, unknowns)
        Of the meshed piece, by excitation.
    odd : tuple of tuples
        For each excitation the planes about which it is odd.
    """
    size = np.abs(values)
    order = np.argsort(size, axis=1)
    below = np.cumsum(np.take_along_axis(size, order, axis=1), axis=1) <= _LOST * size.sum(axis=1, keepdims=True)
    small = np.zeros(size.shape, dtype=bool)
    np.put_along_axis(small, order, below, axis=1)
    used = np.flatnonzero(~np.all(small, axis=0))
    places, out = space.nodes[:, used], values[:, used]
    for axis in space.mesh.symmetry.axes:
        image = places.copy()
        image[axis] *= -1
        sign = np.array([-1.0 if axis in planes else 1.0 for planes in odd])[:, None]
        places, out = np.concatenate([places, image], axis=1), np.concatenate([out, sign * out], axis=1)
    return Charges(places=places, values=out)
