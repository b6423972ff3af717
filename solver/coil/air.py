r"""Field and vector potential of a race-track coil in air, one ampere per turn.

The winding is a uniform current density J = N/(w h) in a stadium-shaped ring of radial build w and
height h. Over the section the Biot–Savart integral is done in closed form; along the straight sides
too; over the angle of the half-circle ends by Gauss points that crowd (as t²) at the field point's own
angle, where the integrand has its only kink::

    A = (μ0 J / 4π) ∫∫∫ t'/R dV'      B = (μ0 J / 4π) ∫∫∫ t' × (r − r')/R³ dV'

With u = x' − x, v = y' − y, w = z' − z and R² = u² + v² + w², the primitives (by differentiation)::

    ∫∫  1/R du dv    = u ln(v + R) + v ln(u + R) − w atan(u v / (w R))             =: F(u, v; w)
    ∫∫∫ 1/R du dv dw = u v ln(w + R) + … − u²/2 atan(v w / (u R)) − …

A winding whose thickness changes along its height has a polygon as section; :mod:`.polygon` has its closed forms.

ln(v + R) is written asinh(v/√(u² + w²)): the two differ by a term that cancels between the limits of v
and the second one loses no digits where v < 0. Checked against magpylib, Grover's and Brooks' tables.

References
----------
The primitives: derived here. That of 1/R over a box is known of gravity as well: D. Nagy, G. Papp, J. Benedek, "The
gravitational potential and its derivatives for the prism", *J. Geodesy* 74 (2000) 552 (memory).
"""

from __future__ import annotations

import math

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import Racetrack

from ..constants import MU0
from ..interpolation import gauss
from .over_section import over_section
from .polygon import arc_section, straight_prism

_TINY = 1e-12  # metres: keeps 0/0 away where a field point lies in a limiting plane
ANGLES = 10  # Gauss points each way from the kink; 20 change B in the bore and above by 3e-5 at most
POINTS = 5  # and per direction of a winding, for its inductance; 24 agree to 1e-5


def mean_area(coil: Racetrack) -> float:
    """Area inside a turn, averaged over the section, m²: π (a² + a w + w²/3) + (2a + w) ℓ, and where the thickness
    changes ∫∫ (π ρ² + 2 ρ ℓ) dρ dz/S (exact)."""
    a, w, ell = coil.inner_radius, coil.build, coil.straight
    if coil.builds:
        u, _, weight = over_section(coil, 2)  # cubic in u, quartic in z, for Gauss points two each way and three
        return float(weight @ (np.pi * (a + u) ** 2 + 2 * (a + u) * ell))
    return float(np.pi * (a * a + a * w + w * w / 3) + (2 * a + w) * ell)


def field(coil: Racetrack, points: Array, angles: int = ANGLES) -> Array:
    """Flux density of the coil in air.

    Parameters
    ----------
    coil : Racetrack
    points : array (3, ...)
        x, y, z in metres.
    angles : int
        Gauss points of the half-circle ends, each way from the kink.

    Returns
    -------
    array (3, ...)
        B in T per ampere in the wire.
    """
    flat = np.reshape(points, (3, -1))
    return np.reshape(_integrate(coil, flat, angles, potential=False), np.shape(points))


def vector_potential(coil: Racetrack, points: Array, angles: int = ANGLES) -> Array:
    """Vector potential of the coil in air, T·m per ampere; shapes as in :func:`field`."""
    flat = np.reshape(points, (3, -1))
    return np.reshape(_integrate(coil, flat, angles, potential=True)[3:], np.shape(points))


def inductance(coil: Racetrack, n: int = POINTS, angles: int = ANGLES) -> float:
    """Self-inductance in air, H: the flux linked with its own winding, n Gauss points per direction and slice."""
    return linked(coil, coil, n, angles)


def linked(source: Racetrack, coil: Racetrack, n: int = POINTS, angles: int = ANGLES) -> float:
    """Flux linked with `coil` per ampere in `source`, Wb/A, both in air and about the same x and y.

    λ = (N/S) ∫ A·t dV over the winding of section S. A is bounded and continuous there, so plain Gauss points over a
    quarter of the winding do.
    """
    return sum(_linked(source, coil, n, 1.0, 1.0, angles)) * 4


def mutual(source: Racetrack, coil: Racetrack, n: int = 8) -> float:
    """The same for coils anywhere: Gauss points over all of the winding."""
    if source.x_centre == coil.x_centre and source.y_centre == coil.y_centre:
        return linked(source, coil, n)
    return sum(sum(_linked(source, coil, n, sx, sy)) for sx in (1.0, -1.0) for sy in (1.0, -1.0))


def _linked(source: Racetrack, coil: Racetrack, n: int, sx: float, sy: float,
            angles: int = ANGLES) -> tuple[float, float]:
    """Parts of λ from the end and from the side of one quarter of the winding, mirrored by the signs."""
    g, wg = gauss(n)
    u, z, over = over_section(coil, n)
    rho, N = coil.inner_radius + u, coil.turns * coil.sense
    W = np.multiply.outer(over, wg)
    # a quarter turn of arc, weight ρ dθ; the current turns with the mirror images: t = (−sin, cos)
    P, T, Z = rho[:, None], g * math.pi / 2, np.broadcast_to(z[:, None], W.shape)
    at = np.stack([coil.x_centre + sx * P * np.cos(T),
                   coil.y_centre + sy * (coil.straight / 2 + P * np.sin(T)), Z])
    A = vector_potential(source, at, angles)
    end = float(np.sum(W * P * (-sy * np.sin(T) * A[0] + sx * np.cos(T) * A[1]))) * math.pi / 2
    if coil.straight == 0:
        return N * end, 0.0
    X, Y = np.broadcast_to(sx * P, W.shape), np.broadcast_to(sy * g * coil.straight / 2, W.shape)
    A = vector_potential(source, np.stack([coil.x_centre + X, coil.y_centre + Y, Z]), angles)
    return N * end, N * sx * float(np.sum(W * A[1])) * coil.straight / 2


def _integrate(coil: Racetrack, points: Array, angles: int, *, potential: bool) -> Array:
    """B, and where wanted A below it, (3, n) or (6, n)."""
    J = coil.sense * coil.turns / coil.area
    out = np.zeros((6 if potential else 3, points.shape[1]))
    if coil.x_centre:
        points = points - np.array([[coil.x_centre], [0.0], [0.0]])
    for side in (1.0, -1.0):
        _add_arc(out, coil, points, side, angles)
        if coil.straight > 0:
            _add_straight(out, coil, points, side)
    return out * (MU0 * J / (4 * math.pi))


def _add_straight(out: Array, coil: Racetrack, points: Array, side: float) -> None:
    """The straight side at x = side·(a … a + w), current along side·y."""
    x, y, z = points
    a, b = coil.inner_radius, coil.inner_radius + coil.build
    if coil.builds:
        u = [(a + w, height) for w, height in coil.corners]  # mirrored into side = +1
        bx, bz, ay = straight_prism(u, side * x, y - coil.y_centre, z, coil.straight / 2, potential=len(out) > 3)
        out[0] += side * bx
        out[2] += bz
        if len(out) > 3:
            out[4] += side * ay
        return
    for su, u in ((-1.0, a - side * x), (1.0, b - side * x)):  # mirrored into side = +1
        for sv, v in ((-1.0, -coil.straight / 2 - (y - coil.y_centre)),
                      (1.0, coil.straight / 2 - (y - coil.y_centre))):
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


def _add_arc(out: Array, coil: Racetrack, points: Array, side: float, angles: int) -> None:
    """The half-circle end at y = side·ℓ/2, angles 0…π for side = +1, π…2π for −1."""
    x = points[0]
    y = points[1] - coil.y_centre - side * coil.straight / 2
    z = points[2]
    first = 0.0 if side > 0 else math.pi
    own = np.clip(np.mod(np.arctan2(y, x) - first, 2 * math.pi), 0.0, None)
    # a point on the other half sees the nearer end of this arc first
    own = np.where(own > math.pi, np.where(own > 1.5 * math.pi, 0.0, math.pi), own)
    g, wg = gauss(angles)
    corners = [(coil.inner_radius + u, height) for u, height in coil.corners] if coil.builds else ()
    for length in (-own, math.pi - own):  # both ways from the own angle, points crowded there
        theta = first + own + np.multiply.outer(g * g, length)  # (angles, n)
        weight = np.multiply.outer(2 * g * wg, np.abs(length))
        c, s = np.cos(theta), np.sin(theta)
        p, q = x * c + y * s, -x * s + y * c  # the point along ρ' and φ'
        bz, br, at = (arc_section(corners, p, q, np.broadcast_to(z, p.shape), potential=len(out) > 3) if corners else
                      _arc_section(coil, p, q, z, potential=len(out) > 3))
        br = br * weight
        out[0] += np.sum(br * c, 0)
        out[1] += np.sum(br * s, 0)
        out[2] += np.sum(bz * weight, 0)
        if len(out) > 3:
            at = at * weight
            out[3] -= np.sum(at * s, 0)
            out[4] += np.sum(at * c, 0)


def _arc_section(coil: Racetrack, p: Array, q: Array, z: Array, *, potential: bool) -> tuple[Array, Array, Array]:
    """∫∫ over the section at one angle of the arc: B_z, B_ρ' and, where wanted, A_φ' without μ0J/4π.

    With s = ρ' − p, ζ = z' − z: B_z = ∫∫ s(s+p)/R³, B_ρ' = −∫∫ ζ(s+p)/R³, A_φ' = ∫∫ (s+p)/R.
    """
    bz, br, at = np.zeros_like(p), np.zeros_like(p), np.zeros_like(p)
    q2, tiny = q * q + _TINY**2, np.copysign(_TINY**2, q)
    along = [(zeta, zeta * zeta, np.sqrt(zeta * zeta + q2)) for zeta in (coil.bottom - z, coil.top - z)]
    for ss, s in ((-1.0, coil.inner_radius - p), (1.0, coil.inner_radius + coil.build - p)):
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
