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

from ..charges import Charges, blocks
from ..space import Ints, SolidSpace

_NODES, _POINTS = 100, 1000  # at once: what fits into a core's own memory
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


def pulled_back(space: SolidSpace, used: Ints, odd: tuple[tuple[int, ...], ...], points: Array,
                weights: Array) -> tuple[Array, Array]:
    """Ψ (k, unknowns), 0 but at the unknowns `used`, and ∇Ψ (k, 3, unknowns), images counted, for weights (k, 3, p)
    at points (3, p); `odd` by row."""
    k = len(weights)
    psi, slope = np.zeros((k, space.unknowns)), np.zeros((k, 3, space.unknowns))
    signs = np.array([[s for _, s in images(space, planes)] for planes in odd])
    for (flip, _), sign in zip(images(space, ()), signs.T, strict=True):
        value, gradient = _potential(points, weights, flip * space.nodes[:, used])
        psi[:, used] += sign[:, None] * value
        slope[:, :, used] += sign[:, None, None] * flip * gradient
    return psi, slope


def _potential(points: Array, weights: Array, at: Array) -> tuple[Array, Array]:
    """Ψ (k, n) and ∇Ψ (k, 3, n) at places (3, n) for weights (k, 3, p) at points (3, p)."""
    middle = points.mean(axis=1, keepdims=True)
    p, x = points - middle, at - middle
    k, n = len(weights), x.shape[1]
    along = np.sum(weights * p, axis=1, keepdims=True)
    # (w·r) r = (w·p) p − (w·p) x − (w·x) p + (w·x) x, each a product of matrices
    low = np.concatenate([along, weights], axis=1)
    high = np.concatenate([low, along * p, (weights[:, :, None] * p).reshape(k, 9, -1)], axis=1)
    cubes, fifths = (np.ascontiguousarray(c.reshape(-1, p.shape[1]).T) for c in (low, high))
    there = np.stack([*p, np.sum(p * p, axis=0), np.ones(p.shape[1])])
    here = np.stack([*(-2 * x), np.ones(n), np.sum(x * x, axis=0)], axis=1)
    s3, s5 = np.zeros((n, 4 * k)), np.zeros((n, 16 * k))
    for few in blocks(p.shape[1], _POINTS):
        beside = np.ascontiguousarray(there[:, few])
        for some in blocks(n, _NODES):
            square = here[some] @ beside
            np.reciprocal(square, out=square)
            kernel = np.sqrt(square)
            kernel *= square
            s3[some] += kernel @ cubes[few]
            kernel *= square
            s5[some] += kernel @ fifths[few]
    one, two = s3.T.reshape(k, 4, n), s5.T.reshape(k, 16, n)
    value = one[:, 0] - np.sum(x * one[:, 1:], axis=1)
    turned = np.einsum("in,kijn->kjn", x, two[:, 7:].reshape(k, 3, 3, n))  # Σ w_i p_j/R⁵
    inner = np.sum(x * two[:, 1:4], axis=1, keepdims=True)
    gradient = -one[:, 1:] + 3 * (two[:, 4:7] - two[:, :1] * x - turned + inner * x)
    return value / (4 * np.pi), gradient / (4 * np.pi)
