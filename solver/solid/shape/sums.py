r"""The fields of a build's charges at points, and weights on these fields pulled back to the charges.

With H(p) = 1/4π Σ q_i (p − x_i)/R³ and J = Σ_p w_p·H(p),

    ∂J/∂q_i = Ψ(x_i),     ∂J/∂x_i = q_i ∇Ψ(x_i),      Ψ(x) = 1/4π Σ_p w_p·(p − x)/|p − x|³ .

References
----------
Derived here.
"""

from __future__ import annotations

import numpy as np

from stringflux.geometry.arrays import Array

from ..charges import Charges
from ..space import Ints, SolidSpace

_AT_ONCE = 400  # nodes
_Signs = list[tuple[Array, float]]


def images(space: SolidSpace, odd: tuple[int, ...]) -> _Signs:
    """Factors (3, 1) of the coordinates of every copy of the meshed piece, and the sign of its charges."""
    out: _Signs = [(np.ones((3, 1)), 1.0)]
    for axis in space.mesh.symmetry.axes:
        flip = np.where(np.arange(3) == axis, -1.0, 1.0)[:, None]
        out += [(flip * f, (-s if axis in odd else s)) for f, s in out]
    return out


def field_of(space: SolidSpace, used: Ints, values: Array, odd: tuple[tuple[int, ...], ...], points: Array) -> Array:
    """H (k, 3, p) at points (3, p) of charges (k, n) at the unknowns `used`, and of their images; `odd` by row."""
    places, charges = space.nodes[:, used], values[:, used]
    ways = [images(space, planes) for planes in odd]
    whole = Charges(places=np.concatenate([f * places for f, _ in ways[0]], axis=1),
                    values=np.stack([np.concatenate([s * row for _, s in way]) for row, way
                                     in zip(charges, ways, strict=True)]))
    return np.asarray(whole.field(points))


def pulled_back(space: SolidSpace, used: Ints, odd: tuple[int, ...], points: Array,
                weights: Array) -> tuple[Array, Array]:
    """Ψ (unknowns,), 0 but at the unknowns `used`, and ∇Ψ (3, unknowns), images counted, for weights (3, p) at points
    (3, p)."""
    psi, slope = np.zeros(space.unknowns), np.zeros((3, space.unknowns))
    for flip, sign in images(space, odd):
        value, gradient = _potential(points, weights, flip * space.nodes[:, used])
        psi[used] += sign * value
        slope[:, used] += sign * flip * gradient
    return psi, slope


def _potential(points: Array, weights: Array, at: Array) -> tuple[Array, Array]:
    """Ψ (n,) and ∇Ψ (3, n) at places (3, n) for weights (3, p) at points (3, p)."""
    middle = points.mean(axis=1, keepdims=True)
    p, x = points - middle, at - middle
    along = np.sum(weights * p, axis=0)
    # (w·r) r = (w·p) p − (w·p) x − (w·x) p + (w·x) x, each a product of matrices
    columns = np.concatenate([along[None], weights, along * p, (weights[:, None] * p[None]).reshape(9, -1)]).T
    there = np.stack([*p, np.sum(p * p, axis=0), np.ones(p.shape[1])])
    value, gradient = np.empty(x.shape[1]), np.empty((3, x.shape[1]))
    for first in range(0, x.shape[1], _AT_ONCE):
        own = x[:, first:first + _AT_ONCE]
        square = np.stack([*(-2 * own), np.ones(own.shape[1]), np.sum(own * own, axis=0)], axis=1) @ there
        square = 1 / square
        cube = square * np.sqrt(square)
        s3 = (cube @ columns[:, :4]).T
        s5 = ((cube * square) @ columns).T
        value[first:first + _AT_ONCE] = s3[0] - np.sum(own * s3[1:], axis=0)
        turned = s5[7:].reshape(3, 3, -1)  # Σ w_i p_j/R⁵
        inner = np.sum(own * s5[1:4], axis=0)
        gradient[:, first:first + _AT_ONCE] = -s3[1:] + 3 * (
            s5[4:7] - s5[0] * own - np.einsum("in,ijn->jn", own, turned) + inner * own)
    return value / (4 * np.pi), gradient / (4 * np.pi)
