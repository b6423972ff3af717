"""A mesh of rings and rays round a wire or a rod; rings that fall together leave no element between them."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array

CONTACT = 1e-9
"""Nodes closer than that are one; in units of the pitch, which every fan is drawn in."""


def fan(radius: Array, theta: Array) -> tuple[Array, npt.NDArray[np.int64]]:
    """Points (2, n) and triangles (3, m) between rings.

    Parameters
    ----------
    radius : array (rings, rays)
        Of every ring at every ray, never falling from ring to ring.
    theta : array (rays,)
        Rising, rad.
    """
    points = np.stack([(radius * np.cos(theta)).ravel(), (radius * np.sin(theta)).ravel()])
    i, j = np.meshgrid(np.arange(radius.shape[0] - 1), np.arange(theta.size - 1), indexing="ij")
    a = (i * theta.size + j).ravel()
    b, c, d = a + 1, a + theta.size, a + theta.size + 1
    return points, np.hstack([np.stack([a, b, d]), np.stack([a, d, c])])


def of_ring(rings: int, rays: int) -> npt.NDArray[np.int64]:
    """Between which rings each triangle of a fan lies, (m,): 0 for those at the wire."""
    return np.tile(np.repeat(np.arange(rings - 1), rays - 1), 2)


def joined(points: Array, triangles: npt.NDArray[np.int64],
           ) -> tuple[Array, npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """Nodes that fall together made one, the triangles that are left, and which of the given ones they are."""
    rounded = np.round(points / CONTACT).astype(np.int64)
    _, first, back = np.unique(rounded, axis=1, return_index=True, return_inverse=True)
    t = back.ravel()[triangles]
    kept = (t[0] != t[1]) & (t[1] != t[2]) & (t[2] != t[0])
    used, again = np.unique(t[:, kept], return_inverse=True)
    return (np.ascontiguousarray(points[:, first][:, used]), np.ascontiguousarray(again.reshape(3, -1)),
            np.asarray(kept))
