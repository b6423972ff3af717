r"""Derivatives of discrete cell integrals with the places of the mesh's nodes.

On straight triangles a velocity V of the nodes, linear in every element, moves the ingredients of any integrand
(nodal values held fixed) by

    δ(∂_i f) = −Σ_j ∂_i V_j ∂_j f      δ(dr dz) = div V dr dz      δr = V_r

so the derivative of a sum over quadrature points Σ ω I(r, f, ∇f, …) dr dz is

    Σ ω [ Σ_ij (δ_ij I − Σ_f ∂I/∂(∂_i f) ∂_j f) ∂_i V_j + ∂I/∂r V_r ] dr dz

exactly that of the sum, not of the integral it stands for. One pass over the elements gives it for all nodes and
so, contracted with any number of shape parameters, for all of them at once.

`BiasTerm` holds λᵀR and the charges' weight of a bias cell, `potential_term` those of a small-signal order.
:func:`part_volume` has the one integral that needs no field.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.pole import SectionMesh

from ..constants import MU0, NU0
from ..section.space import Section


@dataclass(frozen=True, kw_only=True, eq=False)
class ElementPoints:
    """A basis' quadrature points as plain arrays.

    Attributes
    ----------
    dofs : int array (e, 6)
    value : array (6, q)
        P2 functions at the points.
    slopes : array (2, e, 6, q)
        Their ∂_r and ∂_z.
    r, dx : arrays (e, q)
        Radius, m, and ω dr dz, m².
    triangles : int array (e, 3)
    corner : array (3, q)
        P1 functions at the points.
    corner_slopes : array (2, e, 3)
    """

    dofs: Any
    value: Array
    slopes: Array
    r: Array
    dx: Array
    triangles: Any
    corner: Array
    corner_slopes: Array

    def gradient(self, u: Array) -> Array:
        """∇u of nodal values (n, …) at the points, (2, e, q, …)."""
        return np.asarray(np.einsum("ceiq,ei...->ceq...", self.slopes, u[self.dofs], optimize=True))

    def of(self, u: Array) -> Array:
        """u at the points, (e, q, …)."""
        return np.asarray(np.einsum("iq,ei...->eq...", self.value, u[self.dofs], optimize=True))

    def load(self, n: int, f: Array) -> Array:
        """Σ f·∇w for every P2 function w, f (2, e, q) with the weights in it: (n,)."""
        local = np.einsum("ceiq,ceq->ei", self.slopes, f, optimize=True)
        return np.asarray(np.bincount(self.dofs.ravel(), local.ravel(), minlength=n), dtype=float)

    def to_nodes(self, vertices: int, tensor: Array, radial: Array) -> Array:
        """Σ (tensor_ij ∂_i V_j + radial V_r) for V of every vertex: (2, vertices).

        tensor (2, 2, e, q) and radial (e, q) with the weights in them.
        """
        local = np.einsum("iea,ije->jea", self.corner_slopes, tensor.sum(axis=-1))
        local[0] += radial @ self.corner.T
        return np.stack([np.bincount(self.triangles.ravel(), part.ravel(), minlength=vertices) for part in local])


def element_points(section: Section, basis: Any) -> ElementPoints:
    """Arrays of one of the section's bases."""
    shape = (basis.nelems, basis.X.shape[-1])
    slopes = np.stack([np.stack([np.broadcast_to(f[0].grad[c], shape) for f in basis.basis], axis=1)
                       for c in (0, 1)])
    elements = np.arange(section.mesh.triangles.shape[1]) if basis.tind is None else basis.tind
    mesh = basis.mesh
    corners = mesh.t[:, elements]
    x = mesh.p[:, corners]
    double = (x[0, 1] - x[0, 0]) * (x[1, 2] - x[1, 0]) - (x[0, 2] - x[0, 0]) * (x[1, 1] - x[1, 0])
    opposite = x[:, [2, 0, 1]] - x[:, [1, 2, 0]]
    corner_slopes = np.stack([-opposite[1], opposite[0]]) / double
    X = basis.X
    return ElementPoints(
        dofs=basis.element_dofs.T, value=np.stack([np.asarray(f[0])[0] for f in basis.basis]), slopes=slopes,
        r=np.asarray(basis.global_coordinates())[0], dx=basis.dx, triangles=corners.T,
        corner=np.stack([1 - X[0] - X[1], X[0], X[1]]), corner_slopes=np.moveaxis(corner_slopes, 1, 2),
    )


def _tensor(whole: Array, pairs: Sequence[tuple[Array, Array]]) -> Array:
    """δ_ij I − Σ_f ∂I/∂(∂_i f) ∂_j f, (2, 2, e, q); pairs of (∂I/∂∇f, ∇f)."""
    out = np.zeros((2, 2, *whole.shape))
    for given, slope in pairs:
        out -= given[:, None] * slope[None]
    out[0, 0] += whole
    out[1, 1] += whole
    return out


def air_term(points: ElementPoints, u: Array, adjoint: Array, vertices: int) -> Array:
    """Of Σ ν0 curl u·curl λ r over elements of air, (2, vertices)."""
    du, dl = points.gradient(u), points.gradient(adjoint)
    b, c = _curl(points, u, du), _curl(points, adjoint, dl)
    return _flux_nodes(points, NU0 * np.sum(b * c, axis=0), (NU0 * c, du), (NU0 * b, dl), [], vertices)


def _curl(points: ElementPoints, u: Array, du: Array) -> Array:
    return np.stack([-points.r * du[1], 2 * points.of(u) + points.r * du[0]])


def _flux_nodes(points: ElementPoints, integrand: Array, by_b: tuple[Array, Array], by_c: tuple[Array, Array],
                others: Sequence[tuple[Array, Array]], vertices: int, extra: Array | None = None) -> Array:
    """Nodes' derivative of Σ I r dx, I a function of the curls of two functions and of gradients of others.

    by_b, by_c : (∂I/∂curl f, ∇f);  others : (∂I/∂∇f, ∇f)
    extra : ∂(something already weighted)/∂curl of the first function.
    """
    r = points.r
    weight = r * points.dx
    pairs = [(weight * given, slope) for given, slope in others]
    radial = integrand * points.dx
    for n, (given, slope) in enumerate((by_b, by_c)):
        full = weight * given
        if n == 0 and extra is not None:
            full = full + extra
        pairs.append((np.stack([full[1] * r, -full[0] * r]), slope))
        radial = radial + full[1] * slope[0] - full[0] * slope[1]
    return points.to_nodes(vertices, _tensor(integrand * weight, pairs), radial)


@dataclass(frozen=True, kw_only=True, eq=False)
class BiasTerm:
    """What one part adds to λᵀR + Σ w̄ q, with everything that it depends on.

    Attributes
    ----------
    nodes : array (2, vertices)
        Its derivative with the nodes' places, m⁻¹ of the whole.
    by_external : array (unknowns,)
        With the external potential at the unknowns.
    by_low : array (e, q)
        With the lowest B that the magnet has been at, the weights of the points in it.
    """

    nodes: Array
    by_external: Array
    by_low: Array


def part_term(points: ElementPoints, u: Array, external: Array, adjoint: Array, weights: Array, h: Array,
              tangent: Array, h_low: Array, vertices: int, extra: Array | None = None) -> BiasTerm:
    """Of Σ [(H − ν0 B_ext)·curl λ + (ν0 B − H)·∇w̄] r over a part's points.

    Parameters
    ----------
    u, external, adjoint, weights : arrays (n,)
        Nodal values of u, of the external potential, of λ and of w̄.
    h, tangent : arrays (2, e, q), (3, e, q)
        H and dH/dB (rr, rz, zz) at the points; `h_low` (e, q) is dH_z/dB_low.
    extra : array (2, e, q), optional
        What else depends on B at the points, as its derivative with the weights in it.
    """
    du, dv, dl, dw = (points.gradient(f) for f in (u, external, adjoint, weights))
    ext = -MU0 * dv
    b, c = _curl(points, u, du) + ext, _curl(points, adjoint, dl)
    both = c - dw
    through = np.stack([tangent[0] * both[0] + tangent[1] * both[1],
                        tangent[1] * both[0] + tangent[2] * both[1]])
    by_b = through + NU0 * dw
    m = NU0 * b - h
    by_external = -MU0 * (by_b - NU0 * c)
    integrand = np.sum((h - NU0 * ext) * c + m * dw, axis=0)
    weight = points.r * points.dx
    others = [(by_external, dv), (m, dw)]
    if extra is not None:  # it depends on the external field too
        others.append((-MU0 * extra / weight, dv))
    nodes = _flux_nodes(points, integrand, (by_b, du), (h - NU0 * ext, dl), others, vertices, extra)
    whole = weight * by_external + (0.0 if extra is None else -MU0 * extra)
    return BiasTerm(nodes=nodes, by_external=points.load(u.size, whole), by_low=weight * h_low * both[1])


def potential_term(points: ElementPoints, m: int, mu_t: Array, mu_z: Array, local: Array,
                   vertices: int) -> tuple[Array, Array]:
    """Of Σ over pairs j of ∫ [μ_t (∂_r, ∂_φ) + μ_z ∂_z](first_j, second_j) r, small-signal order m.

    Parameters
    ----------
    mu_t, mu_z : arrays (e, q) or (1, 1)
        H/m.
    local : array (e, 6, 6)
        Σ_j first_j second_jᵀ of each element's unknowns (:func:`local_products`): any number of pairs costs the same.

    Returns
    -------
    nodes : array (2, vertices)
    by_mu : array (e, q)
        With an isotropic μ at the points, weights in it.
    """
    r, dx = points.r, points.dx
    both = local + np.swapaxes(local, 1, 2)  # twice the symmetric part
    slopes = np.moveaxis(points.slopes, 2, 3)  # (2, e, q, 6)
    dr, dz = slopes
    dr_m, dz_m = dr @ both, dz @ both
    if m == 0:
        rr, zz, cross = (np.einsum("eqi,eqi->eq", f, g) for f, g in ((dr_m, dr), (dz_m, dz), (dr_m, dz)))
        rr, zz = rr / 2, zz / 2
        weight = r * dx
        tensor = np.empty((2, 2, *r.shape))
        tensor[0, 0] = (mu_z * zz - mu_t * rr) * weight
        tensor[0, 1] = -mu_t * cross * weight
        tensor[1, 0] = -mu_z * cross * weight
        tensor[1, 1] = (mu_t * rr - mu_z * zz) * weight
        return points.to_nodes(vertices, tensor, (mu_t * rr + mu_z * zz) * dx), (rr + zz) * weight
    R = r[..., None]
    value = points.value.T[None]
    value_m = value @ both
    g, g_m = m * value + R * dr, m * value_m + R * dr_m
    rr, ff, zz, by_g, r_z, cross = (np.einsum("eqi,eqi->eq", f, np.broadcast_to(h, f.shape)) for f, h in (
        (g_m, g), (value_m, value), (dz_m, dz), (g_m, dr), (g_m, dz), (dr_m, dz)))
    rr, ff, zz = rr / 2, m * m * ff / 2, r * r * zz / 2
    power = r ** (2 * m - 1)  # r^(2m−2) of the squares, and r of the volume
    whole = (mu_t * (rr + ff) + mu_z * zz) * power
    scale = power * dx
    tensor = np.empty((2, 2, *r.shape))
    tensor[0, 0] = whole * dx - mu_t * r * by_g * scale
    tensor[0, 1] = -mu_t * r * r_z * scale
    tensor[1, 0] = -mu_z * r * r * cross * scale
    tensor[1, 1] = whole * dx - 2 * mu_z * zz * scale
    by_r = (2 * m - 1) * whole / r + power * (mu_t * by_g + 2 * mu_z * zz / r)
    return points.to_nodes(vertices, tensor, by_r * dx), (rr + ff + zz) * scale


def local_products(points: ElementPoints, first: Array, second: Array) -> Array:
    """Σ_j first_j second_jᵀ of every element's unknowns, (e, 6, 6), for nodal values (n, j)."""
    return np.asarray(first[points.dofs] @ np.swapaxes(second[points.dofs], 1, 2))


def part_volume(mesh: SectionMesh, part: int) -> tuple[float, Array]:
    """Volume of the body of revolution, m³ (Pappus over its triangles), and ∂/∂(r, z) of the nodes, (2, n) in m²."""
    t = mesh.triangles[:, mesh.region == part]
    r, z = mesh.points[:, t]
    double = (r[1] - r[0]) * (z[2] - z[0]) - (r[2] - r[0]) * (z[1] - z[0])
    sign, total = np.sign(double), r.sum(axis=0)
    slopes = np.zeros_like(mesh.points)
    for a in range(3):
        b, c = (a + 1) % 3, (a + 2) % 3
        by_r = sign * (total * (z[b] - z[c]) + double)
        by_z = sign * total * (r[c] - r[b])
        for row, values in zip(slopes, (by_r, by_z), strict=True):
            row += np.pi / 3 * np.bincount(t[a], values, minlength=row.size)
    return float(np.pi / 3 * np.sum(np.abs(double) * total)), slopes
