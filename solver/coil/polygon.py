r"""Integrals over a winding's section that is a polygon: what :mod:`.air` and :mod:`.sides` have of rectangles.

Edges run anticlockwise, n is outwards, t along. Of an edge h is the distance of the field point's line from it along
n, l the place along t, and in a plane q away R² = h² + l² + q²::

    ∫ dl/R = asinh(l/√(h² + q²))        ∫ R dl = (l R + (h² + q²) ∫ dl/R)/2
    ∫∫ 1/R = Σ [h ∫ dl/R − |q| atan(h l/(h² + q² + |q| R))]        ∫∫ s/R = Σ n_s ∫ R dl

by Gauss's theorem in the plane. At one angle of an arc, with s = ρ' − p and ζ = z' − z::

    B_z = ∫∫ 1/R − Σ n_s ∫ (s + p)/R dl      B_ρ' = Σ n_ζ ∫ (s + p)/R dl      A_φ' = ∫∫ s/R + p ∫∫ 1/R

Of a straight prism, by Gauss's theorem in space (∇·(r/R) = 2/R), with Φ = ∫∫ 1/R over each of its faces and h the
distance from that::

    A = ½ Σ h Φ      B = Σ t' × n Φ

over the side faces for B, the two ends too for A. And in two dimensions, r² = h² + l²::

    ∫∫ ln r² = ½ Σ h ∫ (ln r² − 1) dl      ∫ ln r² dl = l ln r² − 2 l + 2 h atan(l/h)

References
----------
D. R. Wilton et al., "Potential integrals for uniform and linear source distributions on polygonal and polyhedral
domains", *IEEE Trans. Antennas Propag.* 32 (1984) 276 (the form from memory; derived here).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from stringflux.geometry.arrays import Array

_TINY = 1e-12  # metres: keeps 0/0 away where a field point lies on an edge's line

Corners = Sequence[tuple[float, float]]


def arc_section(corners: Corners, p: Array, q: Array, z: Array, *, potential: bool) -> tuple[Array, Array, Array]:
    """B_z, B_ρ' and, where wanted, A_φ' of a section at one angle of an arc, without μ0 J/4π.

    Parameters
    ----------
    corners : sequence of (float, float)
        ρ' and z', anticlockwise, m.
    p, q, z : array (...)
        The field point along ρ', along φ', and its height, m.
    """
    bz, br, at = np.zeros_like(p), np.zeros_like(p), np.zeros_like(p)
    away = np.abs(q)
    for (n_s, n_z), h, low, high in _edges(corners, p, z):
        square = h * h + q * q + _TINY**2
        R0, R1 = np.sqrt(low * low + square), np.sqrt(high * high + square)
        root = np.sqrt(square)
        line = np.arcsinh(high / root) - np.arcsinh(low / root)
        moment = h * n_s * line - n_z * (R1 - R0) + p * line  # t = (−n_z, n_s)
        turned = np.arctan(h * high / (square + away * R1)) - np.arctan(h * low / (square + away * R0))
        flat = h * line - away * turned
        bz += flat - n_s * moment
        br += n_z * moment
        if potential:
            at += n_s * (high * R1 - low * R0 + square * line) / 2 + p * flat
    return bz, br, at


def straight_prism(corners: Corners, x: Array, y: Array, z: Array, half: float, *,
                   potential: bool) -> tuple[Array, Array, Array]:
    """B_x, B_z and, where wanted, A_y of a prism from −half to half along y, its current along +y, without μ0 J/4π.

    Parameters
    ----------
    corners : sequence of (float, float)
        x and z, anticlockwise, m.
    x, y, z : array (n,)
        Field points, m.
    """
    bx, bz, ay = np.zeros_like(x), np.zeros_like(x), np.zeros_like(x)
    ends = -half - y, half - y
    for (n_x, n_z), h, low, high in _edges(corners, x, z):
        face = sum(sv * sl * _over_rectangle(l, v, h) for sl, l in ((-1, low), (1, high))
                   for sv, v in zip((-1, 1), ends, strict=True))
        bx += n_z * face
        bz -= n_x * face
        if potential:
            ay += h * face / 2
    if potential:
        for sign, v in zip((-1, 1), ends, strict=True):
            ay += sign * v * _flat(corners, x, v, z) / 2
    return bx, bz, ay


def endless_prism(corners: Corners, x: Array, z: Array) -> tuple[Array, Array, Array]:
    """−∂/∂z, ∂/∂x and the value of −∫∫ ln r²: B_x, B_z and A_y of an endless bar with its current along y, without
    μ0 J/4π."""
    bx, bz, ay = np.zeros_like(x), np.zeros_like(x), np.zeros_like(x)
    for (n_x, n_z), h, low, high in _edges(corners, x, z):
        line = np.zeros_like(x)
        for sign, l in ((-1, low), (1, high)):
            turned = np.arctan2(l, np.abs(h)) * np.sign(h)
            line += sign * (l * np.log(l * l + h * h + _TINY**2) - 2 * l + 2 * h * turned)
        bx -= n_z * line
        bz += n_x * line
        ay -= h * (line - (high - low)) / 2
    return bx, bz, ay


def _edges(corners: Corners, x: Array, z: Array) -> Iterator[tuple[tuple[float, float], Array, Array, Array]]:
    """Of every edge n, h, and l at both of its ends."""
    for (x0, z0), (x1, z1) in zip(corners, (*corners[1:], corners[0]), strict=True):
        length = float(np.hypot(x1 - x0, z1 - z0))
        tx, tz = (x1 - x0) / length, (z1 - z0) / length
        u, w = x0 - x, z0 - z
        low = u * tx + w * tz
        yield (tz, -tx), u * tz - w * tx, low, low + length


def _flat(corners: Corners, x: Array, q: Array, z: Array) -> Array:
    """∫∫ 1/R over the section seen from q beside it."""
    out, away = np.zeros_like(x), np.abs(q)
    for _, h, low, high in _edges(corners, x, z):
        square = h * h + q * q + _TINY**2
        root = np.sqrt(square)
        out += h * (np.arcsinh(high / root) - np.arcsinh(low / root))
        for sign, l in ((-1, low), (1, high)):
            out -= sign * away * np.arctan(h * l / (square + away * np.sqrt(l * l + square)))
    return out


def _over_rectangle(u: Array, v: Array, w: Array) -> Array:
    """The primitive of ∫∫ 1/R du dv at w: F of :mod:`.air`."""
    R = np.sqrt(u * u + v * v + w * w) + _TINY
    below = w * R
    return np.asarray(u * np.arcsinh(v / (np.hypot(u, w) + _TINY)) + v * np.arcsinh(u / (np.hypot(v, w) + _TINY))
                      - w * np.arctan(u * v / (below + np.copysign(_TINY**2, below))))
