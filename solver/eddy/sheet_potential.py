r"""The magnetic scalar potential of currents in thin sheets, at points off them.

A stream function ψ is a layer of moment per area, ψ n, so that H = −∇Ω everywhere off the sheet::

    Ω(r) = 1/4π ∫ ψ n·(r − r')/R³ dS'

Near a triangle, with I = ∫ dS'/R over it (:mod:`.triangle_potential`), d the height over its plane and ρ the foot ::

    4π Ω = (d ∇ψ − ψ(ρ) n)·∇I

for ψ linear; elsewhere three points on each. Ω jumps by ψ through the sheet and is single-valued round bodies that
no sheet cuts.

References
----------
Derived here.
"""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from stringflux.geometry.arrays import Array

from ..solid.charges import Charges
from ..triangle_potential import gradient
from .sheet import THREE_POINTS, Sheet

_NEAR = 3.0  # radii of a triangle within which a point is near it
_AT_ONCE = 100_000  # pairs of near ones


def sheet_potential(sheet: Sheet, psi: Array, points: Array) -> Array:
    """Ω (k, p) in A at points (3, p), m, of stream functions ψ (unknowns, k) in A."""
    c, (area, n) = sheet.corners, sheet.area_normal
    every = np.zeros((sheet.mesh.points.shape[1], psi.shape[1]))
    every[sheet.mesh.inner] = psi
    at_corners = every[sheet.mesh.triangles]  # (3 corners, m, k)
    places = np.einsum("qc,cim->qim", THREE_POINTS, c)
    moment = np.einsum("qc,cmk->qmk", THREE_POINTS, at_corners)[:, None] * (n * area / 3)[..., None]  # (q, 3, m, k)
    out = _far(points, places, moment)
    centre = c.mean(0)
    reach = _NEAR * np.max(np.linalg.norm(c - centre, axis=1), axis=0)
    pairs = cKDTree(points.T).query_ball_point(centre.T, reach)
    which = np.repeat(np.arange(area.size), [len(found) for found in pairs])
    near = np.concatenate([np.asarray(found, dtype=np.int64) for found in pairs]) if which.size else which
    for start in range(0, which.size, _AT_ONCE):
        p, t = near[start:start + _AT_ONCE], which[start:start + _AT_ONCE]
        exact = _near(points[:, p], c[:, :, t], n[:, t], at_corners[:, t])
        offset = points[:, p] - places[:, :, t]  # (q, 3, pairs)
        kernel = offset / np.sum(offset**2, axis=1, keepdims=True) ** 1.5
        np.add.at(out, p, exact - np.einsum("qip,qipk->pk", kernel, moment[:, :, t]))
    return np.asarray(out.T / (4 * np.pi))


def _far(points: Array, places: Array, moment: Array) -> Array:
    """Σ m·(r − r')/R³ (p, k) over dipoles m (q, 3, triangles, k) at places (q, 3, triangles)."""
    k = moment.shape[-1]
    # a component of the dipoles is k sets of charges, of whose field that component counts
    values = moment.transpose(1, 3, 0, 2).reshape(3 * k, -1)
    field = Charges(places=places.transpose(1, 0, 2).reshape(3, -1), values=values).field(points)
    return np.asarray(4 * np.pi * np.einsum("ikip->pk", field.reshape(3, k, 3, -1)))


def _near(points: Array, corners: Array, normal: Array, psi: Array) -> Array:
    """4π Ω (p, k) of one triangle for each point; ψ (3 corners, p, k)."""
    height = np.sum((points - corners[0]) * normal, axis=0)
    total = 0.0
    g = gradient(points, corners)
    twice = np.sum(np.cross(corners[1] - corners[0], corners[2] - corners[0], axis=0) * normal, axis=0)
    foot = points - height * normal
    for i in range(3):
        opposite = corners[(i + 2) % 3] - corners[(i + 1) % 3]
        slope = np.cross(normal, opposite, axis=0) / twice  # ∇ of the corner's function
        value = np.sum((foot - corners[(i + 1) % 3]) * slope, axis=0)
        total = total + np.sum((height * slope - value * normal) * g, axis=0)[:, None] * psi[i]
    return np.asarray(total)
