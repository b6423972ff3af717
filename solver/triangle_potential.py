r"""∫ 1/R over triangles in closed form: the potential of a uniform layer, its gradient, and a triangle on itself.

For a field point at height d over the triangle's plane, with ρ its foot, and for every edge the unit vector l along
it, the outward normal m in the plane, p = (edge − ρ)·m, s± = (ends − ρ)·l, R₀² = p² + d²::

    I  = ∫ dS'/R = Σ p f − |d| β,      f = asinh(s₊/R₀) − asinh(s₋/R₀)
    ∇I = −Σ m f − n sgn(d) β,          β = Σ atan(p s₊/(R₀² + |d| R₊)) − atan(p s₋/(R₀² + |d| R₋))

(Wilton et al.). A triangle of area A, sides a and half perimeter h::

    ∬ dS dS'/R = −(4A²/3) Σ ln(1 − a/h)/a

(Eibert & Hansen).

References
----------
I and its gradient: D. R. Wilton et al., *IEEE Trans. Antennas Propag.* 32 (1984) 276. The triangle on itself: T. F.
Eibert, V. Hansen, *IEEE Trans. Antennas Propag.* 43 (1995) 1499.
"""

from __future__ import annotations

import numpy as np

from stringflux.geometry.arrays import Array

_TINY = 1e-12  # m: keeps 0/0 away where a point lies on the line of an edge


def potential(points: Array, corners: Array) -> Array:
    """I in m.

    Parameters
    ----------
    points : array (3, ...)
        m.
    corners : array (3 corners, 3, ...)
        m; the further axes of both are broadcast.
    """
    normal, total = _normal(corners), np.zeros(())
    d = np.abs(_dot(points - corners[0], normal))
    for a, b in _edges(corners):
        f, p, beta, _ = _edge(points, a, b, normal, d)
        total = total + p * f - d * beta
    return np.asarray(total)


def gradient(points: Array, corners: Array) -> Array:
    """∇I with respect to the point (3, ...), no unit; arguments as in :func:`potential`."""
    normal, total, angle = _normal(corners), np.zeros(()), np.zeros(())
    height = _dot(points - corners[0], normal)
    d = np.abs(height)
    for a, b in _edges(corners):
        f, _, beta, outward = _edge(points, a, b, normal, d)
        total = total - outward * f
        angle = angle + beta
    return np.asarray(total - normal * (np.sign(height) * angle))


def on_itself(corners: Array) -> Array:
    """∬ dS dS'/R of a triangle with itself, m³ (...)."""
    a = np.stack([np.linalg.norm(q - p, axis=0) for p, q in _edges(corners)])
    half = a.sum(0) / 2
    square = half * np.prod(half - a, axis=0)  # A²
    return np.asarray(-4 * square / 3 * np.sum(np.log1p(-a / half) / a, axis=0))


def _edges(corners: Array) -> list[tuple[Array, Array]]:
    return [(corners[i], corners[(i + 1) % 3]) for i in range(3)]


def _edge(points: Array, a: Array, b: Array, normal: Array, d: Array) -> tuple[Array, Array, Array, Array]:
    """f, p, this edge's β and m."""
    along = b - a
    along = along / np.linalg.norm(along, axis=0)
    outward = np.cross(along, normal, axis=0)
    p, low, high = _dot(a - points, outward), _dot(a - points, along), _dot(b - points, along)
    square = p * p + d * d + _TINY**2
    root = np.sqrt(square)
    f = np.arcsinh(high / root) - np.arcsinh(low / root)
    beta = (np.arctan(p * high / (square + d * np.sqrt(square + high * high)))
            - np.arctan(p * low / (square + d * np.sqrt(square + low * low))))
    return f, p, beta, outward


def _normal(corners: Array) -> Array:
    n = np.cross(corners[1] - corners[0], corners[2] - corners[0], axis=0)
    return np.asarray(n / np.linalg.norm(n, axis=0))


def _dot(a: Array, b: Array) -> Array:
    return np.asarray(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])
