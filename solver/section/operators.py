"""Value, gradient and curl of P2 functions at their quadrature points, and matrices made of them in one go.

Newton's method evaluates the same linear maps again and again; as matrices they cost a tenth of a form
assembly: B = C u, residual ∫ H·curl w r^g = Cᵀ (weight H), tangent Cᵀ (weight dH/dB) C.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix

from stringflux.geometry.arrays import Array

from ..constants import NU0
from .forms import AXISYMMETRIC, Formulation


@dataclass(frozen=True, kw_only=True, eq=False)
class PointOperators:
    """Matrices from all unknowns (n) to the q quadrature points of a part.

    Attributes
    ----------
    gradient : sparse (2q, n)
        ∂_r, then ∂_z.
    curl : sparse (2q, n)
        B_r = −r^s ∂_z u, then B_z = c u + r^s ∂_r u.
    weight : array (q,)
        r^g dr dz of each point, m³, in the plane m².
    shape : (elements, points)
    basis : skfem basis
        Of the part.
    slopes, curls : arrays (2, elements, functions, points)
        The same of the local functions.
    """

    gradient: Any
    curl: Any
    weight: Array
    shape: tuple[int, int]
    basis: Any
    slopes: Array
    curls: Array

    def field(self, operator: Any, u: Array) -> Array:
        """Two components at the points, (2, elements, points)."""
        return np.asarray(operator @ u).reshape(2, *self.shape)

    def load(self, operator: Any, f: Array) -> Array:
        """∫ f·(operator w) r^g dr dz for every w, f (2, elements, points)."""
        return np.asarray(operator.T @ (f.reshape(2, -1) * self.weight).ravel())

    def tangent(self, t: Array) -> Any:
        """∫ (dH/dB curl u)·curl w r^g dr dz for t = (nrr, nrz, nzz), each (elements, points)."""
        return self._form(t, self.curls)

    def stiffness(self, t: Array) -> Any:
        """∫ (t ∇u)·∇w r^g dr dz, likewise."""
        return self._form(t, self.slopes)

    def _form(self, t: Array, functions: Array) -> Any:
        rr, rz, zz = ((part * self.weight.reshape(self.shape))[:, None, :] for part in t)
        r, z = functions
        return _summed(self.basis, (rr * r + rz * z, r), (rz * r + zz * z, z))


def point_operators(basis: Any, formulation: Formulation = AXISYMMETRIC) -> PointOperators:
    """Build them from a scikit-fem basis."""
    r, dofs = np.asarray(basis.global_coordinates())[0], basis.element_dofs.T
    slopes, curls = _slopes_and_curls(basis, formulation, r)

    def matrix(functions: Array) -> Any:
        data = functions.swapaxes(2, 3)
        columns = np.broadcast_to(dofs[:, None], data.shape)
        starts = np.arange(0, data.size + 1, dofs.shape[1])
        return csr_matrix((data.ravel(), columns.ravel(), starts), shape=(starts.size - 1, basis.N))

    return PointOperators(
        gradient=matrix(slopes), curl=matrix(curls), weight=(formulation.weight(r) * basis.dx).ravel(),
        shape=basis.dx.shape, basis=basis, slopes=slopes, curls=curls,
    )


def potential_matrix(basis: Any, m: int, mu_t: Any, mu_z: Any) -> Any:
    """The matrix of :func:`.forms.potential_form` of order m, element by element in one product.

    The form assembles pair by pair of local functions and evaluates its gradients each time; this does the
    same sum eight times as fast (tests hold the two equal). mu_t, mu_z: arrays (elements, points) or (elements, 1).
    """
    r = np.asarray(basis.global_coordinates())[0]
    value, dr, dz = _at_points(basis)
    weight = (basis.dx * r)[:, None, :]
    if m == 0:
        pairs = [(dr, mu_t), (dz, mu_z)]
    else:
        lower = (r ** (m - 1))[:, None, :]
        pairs = [(lower * (m * value + r[:, None, :] * dr), mu_t), (m * lower * value, mu_t),
                 (lower * r[:, None, :] * dz, mu_z)]
    return _summed(basis, *((g * (weight * np.asarray(mu)[:, None, :]), g) for g, mu in pairs))


def flux_matrix(basis: Any, formulation: Formulation) -> Any:
    """The matrix of :attr:`.Formulation.flux`, likewise."""
    r = np.asarray(basis.global_coordinates())[0]
    weight = (NU0 * formulation.weight(r) * basis.dx)[:, None, :]
    return _summed(basis, *((weight * curl, curl) for curl in _slopes_and_curls(basis, formulation, r)[1]))


def mass_matrix(basis: Any, c: Array) -> Any:
    """∫ c u w, c (elements, points)."""
    value = _at_points(basis)[0]
    return _summed(basis, ((c * basis.dx)[:, None, :] * value, value))


def stiffness_matrix(basis: Any) -> Any:
    """∫ ∇u·∇w in the plane."""
    return _summed(basis, *((basis.dx[:, None, :] * slope, slope) for slope in _at_points(basis)[1:]))


def _slopes_and_curls(basis: Any, formulation: Formulation, r: Array) -> tuple[Array, Array]:
    """Of the local functions, (2, elements, functions, points)."""
    value, dr, dz = _at_points(basis)
    scale = formulation.scale(r)[:, None, :]
    return np.stack([dr, dz]), np.stack([-scale * dz, formulation.spread * value + scale * dr])


def _at_points(basis: Any) -> list[Array]:
    """Value and both slopes of the local functions at the points of each element, (elements, functions, points)."""
    return [np.stack([np.broadcast_to(part, basis.dx.shape) for part in parts], axis=1) for parts in
            zip(*((np.asarray(f[0]), f[0].grad[0], f[0].grad[1]) for f in basis.basis), strict=True)]


def _summed(basis: Any, *products: tuple[Array, Array]) -> Any:
    """The sparse matrix (n, n) of the sum of products f g', each (elements, functions, points), over the points."""
    local = sum(f @ np.swapaxes(g, 1, 2) for f, g in products)
    dofs = basis.element_dofs.T
    rows = np.repeat(dofs, dofs.shape[1], axis=1).ravel()
    columns = np.tile(dofs, (1, dofs.shape[1])).ravel()
    return coo_matrix((np.asarray(local).ravel(), (rows, columns)), shape=(basis.N, basis.N)).tocsc()
