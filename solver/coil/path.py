r"""A winding on a path of straight and round pieces: its field as the sum of theirs, and places in it for sums over
it.

Of every piece a frame stands in its middle or its centre; a piece that turns right has its section on the inside of
its bend, from r − w to r, and its current runs against φ'::

    λ = (N/S) Σ_pieces ∫ A·t dV

References
----------
Derived here.
"""

from __future__ import annotations

import math

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.coil_path import PathCoil, PathPiece

from ..interpolation import gauss
from .over_section import over_section
from .pieces import add_arc, add_straight

_PANELS, _ALONG = 2, 6  # of a piece, and Gauss points along each


def add_path(out: Array, coil: PathCoil, points: Array, angles: int) -> None:
    """Add the integrals of a winding at points (3, n) to `out` (3 or 6, n), without μ0 J/4π."""
    for piece in coil.pieces:
        if piece.turn:
            _add_round(out, coil, piece, points, angles)
        else:
            _add_straight(out, coil, piece, points)


def _add_straight(out: Array, coil: PathCoil, piece: PathPiece, points: Array) -> None:
    (tx, ty), (nx, ny) = piece.way, piece.outwards
    x, y = points[0] - piece.start[0], points[1] - piece.start[1]
    own = np.zeros_like(out)
    add_straight(own, coil, (x * nx + y * ny, x * tx + y * ty - piece.length / 2, points[2]), 0.0, piece.length / 2)
    out[0] += nx * own[0]
    out[1] += ny * own[0]
    out[2] += own[2]
    if len(out) > 3:
        out[3] += tx * own[4]
        out[4] += ty * own[4]


def _add_round(out: Array, coil: PathCoil, piece: PathPiece, points: Array, angles: int) -> None:
    x, y = piece.centre
    first, inner, way = _bend(coil, piece)
    add_arc(out, coil, (points[0] - x, points[1] - y, points[2]), inner, first, abs(piece.turn), angles, way)


def _bend(coil: PathCoil, piece: PathPiece) -> tuple[float, float, float]:
    """The angle from which a round piece is swept counter-clockwise, its inner radius, and its current's way along
    φ'."""
    u, v = piece.outwards
    if piece.turn > 0:
        return math.atan2(v, u), piece.radius, 1.0
    return math.atan2(-v, -u) + piece.turn, piece.radius - coil.build, -1.0


def places_in(coil: PathCoil, n: int) -> tuple[Array, Array]:
    """Gauss points (3, k) in a winding, n each way over its section, m, and t dV/S there (3, k), m."""
    u, z, over = over_section(coil, n)
    g, w = gauss(_ALONG)
    at, part = (np.arange(_PANELS)[:, None] + g).ravel() / _PANELS, np.tile(w, _PANELS) / _PANELS
    places, steps = [], []
    for piece in coil.pieces:
        if piece.turn:
            first, inner, way = _bend(coil, piece)
            rho = inner + u if way > 0 else piece.radius - u
            angle = first + abs(piece.turn) * at
            c, s = np.cos(angle), np.sin(angle)
            x, y = piece.centre
            p = np.stack([x + np.outer(rho, c), y + np.outer(rho, s)])
            weight = np.outer(over * rho, part) * abs(piece.turn) * way
            t = np.stack([-s, c])[:, None]
        else:
            (tx, ty), (nx, ny) = piece.way, piece.outwards
            along = piece.length * at
            p = np.stack([piece.start[0] + u[:, None] * nx + along * tx, piece.start[1] + u[:, None] * ny + along *
            ty])
            weight = np.outer(over, part) * piece.length
            t = np.array([tx, ty])[:, None, None]
        places.append(np.concatenate([p, np.broadcast_to(z[:, None], p.shape[1:])[None]]).reshape(3, -1))
        steps.append(np.concatenate([t * weight, np.zeros((1, *weight.shape))]).reshape(3, -1))
    return np.concatenate(places, axis=1), np.concatenate(steps, axis=1)
