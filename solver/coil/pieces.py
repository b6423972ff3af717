r"""Straight and round pieces of a winding in air: what :mod:`.air` adds up, in closed form but for the arcs' angle.

Over the section the Biot–Savart integral is done in closed form; along straight pieces too; over the angle of round
ones by Gauss points that crowd (as t²) at the field point's own angle, where the integrand has its only kink. With
u = x' − x, v = y' − y, w = z' − z and R² = u² + v² + w², the primitives (by differentiation)::

    ∫∫  1/R du dv    = u ln(v + R) + v ln(u + R) − w atan(u v / (w R))             =: F(u, v; w)
    ∫∫∫ 1/R du dv dw = u v ln(w + R) + … − u²/2 atan(v w / (u R)) − …

A winding whose thickness changes along its height has a polygon as section; :mod:`.polygon` has its closed forms.

ln(v + R) is written asinh(v/√(u² + w²)): the two differ by a term that cancels between the limits of v
and the second one loses no digits where v < 0.

References
----------
The primitives: derived here. That of 1/R over a box is known of gravity as well: D. Nagy, G. Papp, J. Benedek, "The
gravitational potential and its derivatives for the prism", *J. Geodesy* 74 (2000) 552 (memory).
"""

from __future__ import annotations

import math

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.wound import WoundSection

from ..interpolation import gauss
from .polygon import arc_section, straight_prism

_TINY = 1e-12  # metres: keeps 0/0 away where a field point lies in a limiting plane


def add_straight(out: Array, coil: WoundSection, place: tuple[Array, Array, Array], inner: float, half: float,
                 side: float = 1.0) -> None:
    """A straight piece from −half to half along y, its section from x = inner outwards, mirrored in x = 0 with its
    current where side is −1: rows 0, 2 of `out`, and 4 where there are six.

    Parameters
    ----------
    place : three arrays (n,)
        Field points from the piece's middle: x already turned into side = +1, y, z.
    """
    x, y, z = place
    a, b = inner, inner + coil.build
    if coil.builds:
        corners = [(a + w, height) for w, height in coil.corners]
        bx, bz, ay = straight_prism(corners, x, y, z, half, potential=len(out) > 3)
        out[0] += side * bx
        out[2] += bz
        if len(out) > 3:
            out[4] += side * ay
        return
    for su, u in ((-1.0, a - x), (1.0, b - x)):
        for sv, v in ((-1.0, -half - y), (1.0, half - y)):
            for sw, w in ((-1.0, coil.bottom - z), (1.0, coil.top - z)):
                s = su * sv * sw
                R = np.sqrt(u * u + v * v + w * w) + _TINY
                lu = np.arcsinh(u / (np.hypot(v, w) + _TINY))
                lv = np.arcsinh(v / (np.hypot(u, w) + _TINY))
                lw = np.arcsinh(w / (np.hypot(u, v) + _TINY))
                tu, tw = _atan(v * w, u * R), _atan(u * v, w * R)
                out[0] += side * s * (u * lv + v * lu - w * tw)  # current reversed at x < 0
                out[2] -= s * (v * lw + w * lv - u * tu)
                if len(out) > 3:
                    tv = _atan(u * w, v * R)
                    out[4] += side * s * (u * v * lw + v * w * lu + w * u * lv
                                          - (u * u * tu + v * v * tv + w * w * tw) / 2)


def add_arc(out: Array, coil: WoundSection, place: tuple[Array, Array, Array], inner: float, first: float,
            sweep: float, angles: int, way: float = 1.0) -> None:
    """A round piece about z = 0's origin, from the angle `first` on by `sweep`, its section from ρ' = inner outwards;
    its current along +φ', or with way = −1 along −φ'.

    Parameters
    ----------
    place : three arrays (n,)
        Field points x, y, z from its centre.
    """
    x, y, z = place
    own = np.clip(np.mod(np.arctan2(y, x) - first, 2 * math.pi), 0.0, None)
    # a point beside the arc sees the nearer end of it first
    own = np.where(own > sweep, np.where(own > math.pi + sweep / 2, 0.0, sweep), own)
    g, wg = gauss(angles)
    corners = [(inner + u, height) for u, height in coil.corners] if coil.builds else ()
    for length in (-own, sweep - own):  # both ways from the own angle, points crowded there
        theta = first + own + np.multiply.outer(g * g, length)  # (angles, n)
        weight = np.multiply.outer(2 * g * wg, np.abs(length))
        c, s = np.cos(theta), np.sin(theta)
        p, q = x * c + y * s, -x * s + y * c  # the point along ρ' and φ'
        bz, br, at = (arc_section(corners, p, q, np.broadcast_to(z, p.shape), potential=len(out) > 3) if corners else
                      _arc_section(coil, inner, p, q, z, potential=len(out) > 3))
        weight = way * weight
        br = br * weight
        out[0] += np.sum(br * c, 0)
        out[1] += np.sum(br * s, 0)
        out[2] += np.sum(bz * weight, 0)
        if len(out) > 3:
            at = at * weight
            out[3] -= np.sum(at * s, 0)
            out[4] += np.sum(at * c, 0)


def _arc_section(coil: WoundSection, inner: float, p: Array, q: Array, z: Array, *,
                 potential: bool) -> tuple[Array, Array, Array]:
    """∫∫ over the section at one angle of the arc: B_z, B_ρ' and, where wanted, A_φ' without μ0J/4π.

    With s = ρ' − p, ζ = z' − z: B_z = ∫∫ s(s+p)/R³, B_ρ' = −∫∫ ζ(s+p)/R³, A_φ' = ∫∫ (s+p)/R.
    """
    bz, br, at = np.zeros_like(p), np.zeros_like(p), np.zeros_like(p)
    q2, tiny = q * q + _TINY**2, np.copysign(_TINY**2, q)
    along = [(zeta, zeta * zeta, np.sqrt(zeta * zeta + q2)) for zeta in (coil.bottom - z, coil.top - z)]
    for ss, s in ((-1.0, inner - p), (1.0, inner + coil.build - p)):
        s2 = s * s + q2
        root = np.sqrt(s2)
        for sz, (zeta, square, other) in zip((-1.0, 1.0), along, strict=True):
            sign = ss * sz
            R = np.sqrt(s2 + square)
            ls, lz = np.arcsinh(s / other), np.arcsinh(zeta / root)
            kink = q * np.arctan(s * zeta / (q * R + tiny))
            bz += sign * (zeta * ls - kink - p * lz)
            br += sign * (R + p * ls)
            if potential:
                at += sign * (p * (s * lz + zeta * ls - kink) + (zeta * R + s2 * lz) / 2)
    return bz, br, at


def _atan(numerator: Array, denominator: Array) -> Array:
    """atan of a ratio, 0 where both vanish (its factor vanishes there too)."""
    return np.arctan(numerator / (denominator + np.copysign(_TINY**2, denominator)))
