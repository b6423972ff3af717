"""Fields of unit charges on a pole's rings at points of a string, order by order."""

from __future__ import annotations

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import PlacedPole
from stringflux.solver.row.rings import Rings, ring_kernel

ORDERS = 3
_NEAR_ANGLES, _FAR_ANGLES = 20, 8
_NEAR = 8e-3  # m


def unit_fields(points: Array, place: PlacedPole, ring: Rings) -> Array:
    """H (3, orders × K, b, 5, n) of unit charges on every ring, order by order; A/m per A·m."""
    shape = points.shape[1:]
    x, y, z = points.reshape(3, -1) - np.array([[0.0], [place.y], [place.face]])
    r = np.hypot(x, y)
    kernel = np.empty((ORDERS, 3, r.size, ring.r.size))
    near = np.hypot(r, z) < _NEAR
    for mask, angles in ((near, _NEAR_ANGLES), (~near, _FAR_ANGLES)):
        kernel[:, :, mask] = ring_kernel(r[mask], z[mask], ring.r, ring.z, ORDERS, angles)
    kernel /= 4 * np.pi
    safe = np.where(r > 1e-9, r, 1.0)
    c, s = np.where(r > 1e-9, y / safe, 1.0)[:, None], np.where(r > 1e-9, x / safe, 0.0)[:, None]
    out = np.empty((3, ORDERS, ring.r.size, r.size))
    alpha = np.arctan2(s, c)
    for m in range(ORDERS):
        phi, hr, hz = kernel[m]
        radial, around = hr * np.cos(m * alpha), m * phi / safe[:, None] * np.sin(m * alpha)
        if m == 1:  # on the axis φ/r is −H_r
            around = np.where(r[:, None] > 1e-6, around, -hr * np.sin(alpha))
        out[0, m] = (radial * s + around * c).T
        out[1, m] = (radial * c - around * s).T
        out[2, m] = (hz * np.cos(m * alpha)).T
    return out.reshape(3, -1, *shape)
