"""Value, gradient and curl of P2 functions at their quadrature points, and matrices made of them in one go.

Newton's method evaluates the same linear maps again and again; as matrices they cost a tenth of a form
assembly: B = C u, residual ∫ H·curl w r^g = Cᵀ (weight H), tangent Cᵀ (weight dH/dB) C.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix, diags_array, vstack

from stringflux.geometry.arrays import Array

from .constants import NU0
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
    """

    gradient: Any
    curl: Any
    weight: Array
    shape: tuple[int, int]

    def field(self, operator: Any, u: Array) -> Array:
        """Two components at the points, (2, elements, points)."""
        return np.asarray(operator @ u).reshape(2, *self.shape)

    def load(self, operator: Any, f: Array) -> Array:
        """∫ f·(operator w) r^g dr dz for every w, f (2, elements, points)."""
        return np.asarray(operator.T @ (f.reshape(2, -1) * self.weight).ravel())

    def tangent(self, t: Array) -> Any:
        """∫ (dH/dB curl u)·curl w r^g dr dz for t = (nrr, nrz, nzz), each (elements, points)."""
        rr, rz, zz = (part.ravel() * self.weight for part in t)
        q = self.weight.size
        d = diags_array([np.concatenate([rr, zz]), rz, rz], offsets=[0, q, -q], shape=(2 * q, 2 * q))
        return self.curl.T @ (d @ self.curl)


def point_operators(basis: Any, formulation: Formulation = AXISYMMETRIC) -> PointOperators:
    """Build them from a scikit-fem basis."""
    elements, points = basis.nelems, basis.X.shape[-1]
    q = elements * points
    r = np.asarray(basis.global_coordinates())[0].ravel()
    rows = np.arange(q)
    parts: dict[str, list[Any]] = {"value": [], "r": [], "z": []}
    columns = []
    for i in range(basis.Nbfun):
        f = basis.basis[i][0]
        columns.append(np.repeat(basis.element_dofs[i], points))
        parts["value"].append(np.broadcast_to(np.asarray(f), (elements, points)).ravel())
        parts["r"].append(np.broadcast_to(f.grad[0], (elements, points)).ravel())
        parts["z"].append(np.broadcast_to(f.grad[1], (elements, points)).ravel())
    where = (np.tile(rows, basis.Nbfun), np.concatenate(columns))
    value, dr, dz = (csr_matrix((np.concatenate(parts[k]), where), shape=(q, basis.N))
                     for k in ("value", "r", "z"))
    scale = diags_array(formulation.scale(r))
    return PointOperators(
        gradient=vstack([dr, dz]).tocsr(),
        curl=vstack([-(scale @ dz), formulation.spread * value + scale @ dr]).tocsr(),
        weight=formulation.weight(r) * basis.dx.ravel(), shape=(elements, points),
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
    return _summed(basis, *((g, weight * np.asarray(mu)[:, None, :]) for g, mu in pairs))


def flux_matrix(basis: Any, formulation: Formulation) -> Any:
    """The matrix of :attr:`.Formulation.flux`, likewise."""
    r = np.asarray(basis.global_coordinates())[0]
    value, dr, dz = _at_points(basis)
    scale, weight = formulation.scale(r)[:, None, :], (NU0 * formulation.weight(r) * basis.dx)[:, None, :]
    return _summed(basis, (scale * dz, weight), (formulation.spread * value + scale * dr, weight))


def mass_matrix(basis: Any, c: Array) -> Any:
    """∫ c u w, c (elements, points)."""
    return _summed(basis, (_at_points(basis)[0], (c * basis.dx)[:, None, :]))


def stiffness_matrix(basis: Any) -> Any:
    """∫ ∇u·∇w in the plane."""
    return _summed(basis, *((slope, basis.dx[:, None, :]) for slope in _at_points(basis)[1:]))


def _at_points(basis: Any) -> list[Array]:
    """Value and both slopes of the local functions at the points of each element, (elements, functions, points)."""
    return [np.stack([np.broadcast_to(part, basis.dx.shape) for part in parts], axis=1) for parts in
            zip(*((np.asarray(f[0]), f[0].grad[0], f[0].grad[1]) for f in basis.basis), strict=True)]


def _summed(basis: Any, *products: tuple[Array, Array]) -> Any:
    """The sparse matrix (n, n) of ∫ g g' for each g of the local functions with its weights."""
    local = sum((g * weight) @ np.swapaxes(g, 1, 2) for g, weight in products)
    dofs = basis.element_dofs.T
    rows = np.repeat(dofs, dofs.shape[1], axis=1).ravel()
    columns = np.tile(dofs, (1, dofs.shape[1])).ravel()
    return coo_matrix((np.asarray(local).ravel(), (rows, columns)), shape=(basis.N, basis.N)).tocsc()
