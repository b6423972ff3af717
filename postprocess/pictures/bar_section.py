"""The bars' field in their endless section, from a case solved in the plane: for figures and for other programs.

B = (−∂A/∂z, ∂A/∂x) of the P2 function A is linear in every triangle. Its values at the corners are averaged over the
triangles of the same bar, or of the air, that meet there, so that it jumps only where it does in truth.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import SolveError
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.solver.plane.section import SolvedPlane
from stringflux.solver.plane.solve import SolvedBars

from ..records.prediction import SliceRecord
from .slice import pictured

_OPPOSITE = ((1, 2, 3, 5), (0, 2, 3, 4), (0, 1, 5, 4))  # other corners of each corner, and the middles towards them


def plane_record(case: Case, bodies: tuple[SolidBody, ...], solved: SolvedBars) -> SliceRecord:
    """The section of the bars as a plane along the string next to the middle; `bodies` are the magnetic ones."""
    return pictured(case, bodies, lambda y, x, z: section_field(solved.section, x, z), endless=True)


def section_field(plane: SolvedPlane, x: Array, z: Array) -> tuple[Array, npt.NDArray[np.bool_]]:
    """B (3, nz, nx) in T at (x, z), nothing of it along the bars, and whether that is in a bar (nz, nx).

    Raises
    ------
    SolveError
        If a point lies off the section's mesh.
    """
    from matplotlib.tri import Triangulation  # here: a prediction without pictures draws nothing

    mesh = plane.section.basis.mesh
    X, Z = np.meshgrid(np.abs(x) if plane.half else x, z)
    grid = Triangulation(mesh.p[0], mesh.p[1], mesh.t.T)
    element: npt.NDArray[np.int64] = np.asarray(grid.get_trifinder()(X, Z), dtype=np.int64)
    if np.any(element < 0):
        raise SolveError("the picture leaves the section's mesh; report it with the case")
    weights = _barycentric(mesh, element, X, Z)
    region = plane.section.mesh.region[element]
    b = np.zeros((3, *X.shape))
    for k in np.unique(region):
        own = region == k
        nodal = _at_corners(plane, np.flatnonzero(plane.section.mesh.region == k))
        corners = nodal[:, mesh.t[:, element[own]]]
        b[::2, own] = np.einsum("ckn,kn->cn", corners, weights[:, own])
    if plane.half:  # charges at −x are `mirror` times those at x, and make the mirrored field as many times
        mirror = -plane.shape.parity
        b[:, x != X] *= np.array([-mirror, 1.0, mirror])[:, None]
    return b, region >= 0


def _at_corners(plane: SolvedPlane, elements: npt.NDArray[np.int64]) -> Array:
    """B_x, B_z (2, points) at the corners of some triangles, means over those that meet there by their areas."""
    section = plane.section
    mesh, dofs = section.basis.mesh, section.basis.element_dofs[:, elements]
    u = plane.bias_state.u[dofs]
    gradient, area = _gradients(mesh, elements)
    total, size = np.zeros((2, mesh.p.shape[1])), np.zeros(mesh.p.shape[1])
    for k, (i, j, to_i, to_j) in enumerate(_OPPOSITE):
        slope = (3 * u[k] * gradient[:, k] - u[i] * gradient[:, i] - u[j] * gradient[:, j]
                 + 4 * (u[to_i] * gradient[:, i] + u[to_j] * gradient[:, j]))
        at, x = mesh.t[k, elements], mesh.p[0, mesh.t[k, elements]]
        if section.formulation.power == 1:  # A = x u
            slope = x * slope + np.stack([u[k], np.zeros_like(x)])
        total += np.stack([np.bincount(at, area * v, size.size) for v in (-slope[1], slope[0])])
        size += np.bincount(at, area, size.size)
    return total / np.where(size > 0, size, 1.0)


def _gradients(mesh: Any, elements: npt.NDArray[np.int64]) -> tuple[Array, Array]:
    """Gradients (2, 3, m) of the barycentric coordinates, 1/m, and areas (m,), m²."""
    p, t = mesh.p, mesh.t[:, elements]
    a, b, c = (p[:, t[k]] for k in range(3))
    twice = (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])
    normal = np.stack([np.stack([q[1] - r[1], r[0] - q[0]]) for q, r in ((b, c), (c, a), (a, b))], axis=1)
    return normal / twice, np.abs(twice) / 2


def _barycentric(mesh: Any, element: npt.NDArray[np.int64], x: Array, z: Array) -> Array:
    gradient, _ = _gradients(mesh, element.ravel())
    corner = mesh.p[:, mesh.t[:, element.ravel()]]
    away = np.stack([x.ravel(), z.ravel()])[:, None] - corner[:, [1, 2, 0]]
    return np.asarray(np.einsum("ckn,ckn->kn", gradient, away)).reshape(3, *x.shape)
