r"""Field and vector potential of a coil in air, one ampere per turn: a race-track, or a path of its own
(:mod:`.path`).

The winding is a uniform current density J = N/(w h) in a ring of radial build w and height h, made of straight and
round pieces (:mod:`.pieces`)::

    A = (μ0 J / 4π) ∫∫∫ t'/R dV'      B = (μ0 J / 4π) ∫∫∫ t' × (r − r')/R³ dV'

Checked against magpylib, Grover's and Brooks' tables.

References
----------
Derived here.
"""

from __future__ import annotations

import math

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.coil_path import PathCoil
from stringflux.geometry.shapes.loops import area
from stringflux.geometry.shapes.row import Racetrack

from ..constants import MU0
from ..interpolation import gauss
from .over_section import over_section
from .path import add_path, places_in
from .pieces import add_arc, add_straight

ANGLES = 10  # Gauss points each way from the kink; 20 change B in the bore and above by 3e-5 at most
POINTS = 5  # and per direction of a winding, for its inductance; 24 agree to 1e-5


def mean_area(coil: Racetrack) -> float:
    """Area inside a turn, averaged over the section, m²: π (a² + a w + w²/3) + (2a + w) ℓ, and where the thickness
    changes ∫∫ (π ρ² + 2 ρ ℓ) dρ dz/S (exact)."""
    a, w, ell = coil.inner_radius, coil.build, coil.straight
    if isinstance(coil, PathCoil):
        return area(coil.inner) + (2 * ell + 2 * math.pi * a) * w / 2 + math.pi * w * w / 3
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
    if isinstance(source, PathCoil) or isinstance(coil, PathCoil):
        return mutual(source, coil, n)
    return sum(_linked(source, coil, n, 1.0, 1.0, angles)) * 4


def mutual(source: Racetrack, coil: Racetrack, n: int = 8) -> float:
    """The same for coils anywhere: Gauss points over all of the winding."""
    if isinstance(coil, PathCoil):
        at, along = places_in(coil, n)
        return coil.turns * coil.sense * float(np.sum(vector_potential(source, at) * along))
    if not isinstance(source, PathCoil) and source.x_centre == coil.x_centre and source.y_centre == coil.y_centre:
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
    if isinstance(coil, PathCoil):
        add_path(out, coil, points, angles)
        return out * (MU0 * J / (4 * math.pi))
    if coil.x_centre:
        points = points - np.array([[coil.x_centre], [0.0], [0.0]])
    x, y, z = points
    for side in (1.0, -1.0):
        add_arc(out, coil, (x, y - coil.y_centre - side * coil.straight / 2, z), coil.inner_radius,
                0.0 if side > 0 else math.pi, math.pi, angles)
        if coil.straight > 0:
            add_straight(out, coil, (side * x, y - coil.y_centre, z), coil.inner_radius, coil.straight / 2, side)
    return out * (MU0 * J / (4 * math.pi))
