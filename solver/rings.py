"""A pole's magnetisation as a few rings of charge, and the potentials that rings make.

Everything a pole exchanges with the world (coil, neighbours, strings) is a harmonic potential, smooth in
the pole. So the potential is handed over at a coarse tensor grid (r_k, z_l) in each part (polynomials in
r² times r^m, Chebyshev points in z, panels that shrink towards the face), and by the same interpolation
backwards the charges of all unknowns become charges of those rings: q_ring = Eᵀ q. A ring of charge with
density cos mφ' makes, at (r, z) and azimuth φ,

    φ = cos(mφ) q/(4π) ∮ cos(mα)/R dα,   R² = r² + r'² − 2 r r' cos α + (z − z')²

with the trapezoidal rule in α, which converges geometrically.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

from .section import Section

_BLOCK = 400_000  # numbers held at once while kernels are summed: stays in the cache


@dataclass(frozen=True, kw_only=True, eq=False)
class Rings:
    """Interpolation grid of one pole.

    Attributes
    ----------
    r, z : arrays (K,)
        Ring radii and heights relative to the pole's face, m.
    spread : tuple of arrays (k, K)
        For m = 0, 1, 2: v at the pole's unknowns from φ at the rings.
    """

    r: Array
    z: Array
    spread: tuple[Array, ...]


def near_rings(section: Section, orders: int = 3) -> Rings:
    """Grid that resolves fields of a string close to the face."""
    return _rings(section, radial=8, per_panel=7, depths=(1.6e-3, 5e-3), orders=orders)


def far_rings(section: Section, orders: int = 3, per_panel: int = 14) -> Rings:
    """Coarser grid, enough for the fields of neighbours a pitch away."""
    return _rings(section, radial=4, per_panel=per_panel, depths=(), orders=orders)


def _rings(section: Section, *, radial: int, per_panel: int, depths: tuple[float, ...],
           orders: int) -> Rings:
    shape = section.shape
    pole_nodes = section.nodes[:, section.pole]
    owner = np.full(section.unknowns, -1)
    for i in reversed(range(len(shape.parts))):
        owner[section.parts[i].element_dofs.ravel()] = i
    owner = owner[section.pole]
    r_all: list[Array] = []
    z_all: list[Array] = []
    blocks: list[tuple[Array, int, list[Array]]] = []
    for i, part in enumerate(shape.parts):
        edges = [part.top, *[part.top - d for d in depths if i == 0 and d < 0.7 * (part.top - part.bottom)],
                 part.bottom]
        rk = part.radius * np.cos((2 * np.arange(radial) + 1) * np.pi / (4 * radial))
        mine = np.flatnonzero(owner == i)
        panel = np.clip(np.searchsorted(-np.array(edges), -pole_nodes[1, mine]) - 1, 0, len(edges) - 2)
        for j in range(len(edges) - 1):
            rows = mine[panel == j]
            zl = chebyshev(edges[j + 1], edges[j], per_panel)
            R, Z = np.meshgrid(rk, zl, indexing="ij")
            radial_part = lagrange(rk**2, pole_nodes[0, rows] ** 2)
            axial_part = lagrange(zl, pole_nodes[1, rows])
            per_order = [np.einsum("nk,nl->nkl", radial_part / rk**m, axial_part).reshape(len(rows), -1)
                         for m in range(orders)]
            blocks.append((rows, sum(len(x) for x in r_all), per_order))
            r_all.append(R.ravel())
            z_all.append(Z.ravel())
    r, z = np.concatenate(r_all), np.concatenate(z_all)
    spread = [np.zeros((section.pole.size, r.size)) for _ in range(orders)]
    for rows, first, per_order in blocks:
        for m, block in enumerate(per_order):
            spread[m][rows, first:first + block.shape[1]] = block
    return Rings(r=r, z=z, spread=tuple(spread))


def chebyshev(low: float, high: float, n: int) -> Array:
    """n Chebyshev points of the first kind between low and high, ascending."""
    return (low + high) / 2 - (high - low) / 2 * np.cos((2 * np.arange(n) + 1) * np.pi / (2 * n))


def lagrange(nodes: Array, x: Array) -> Array:
    """Values (len(x), len(nodes)) of the Lagrange polynomials of `nodes` at x."""
    out = np.ones((x.size, nodes.size))
    for k in range(nodes.size):
        for j in range(nodes.size):
            if j != k:
                out[:, k] *= (x - nodes[j]) / (nodes[k] - nodes[j])
    return out


def ring_potential(r: Array, z: Array, ring_r: Array, ring_z: Array, orders: int,
                   angles: int) -> Array:
    """∮ cos(mα)/R dα for targets (r, z) and rings, (orders, targets, rings)."""
    return ring_kernel(r, z, ring_r, ring_z, orders, angles, gradient=False)[:, 0]


def ring_kernel(r: Array, z: Array, ring_r: Array, ring_z: Array, orders: int, angles: int,
                gradient: bool = True) -> Array:
    """∮ cos(mα)/R dα and, for H = −∇φ, −∂_r and −∂_z of it: (orders, 3 or 1, targets, rings).

    `angles` trapezoidal points on the half circle.
    """
    parts = 3 if gradient else 1
    alpha = np.pi * np.arange(angles + 1) / angles
    weight = np.full(angles + 1, 2 * np.pi / angles)
    weight[[0, -1]] /= 2
    cosines = weight * np.cos(np.multiply.outer(np.arange(orders), alpha))
    out = np.empty((orders, parts, r.size, ring_r.size))
    block = max(1, _BLOCK // ((angles + 1) * parts * ring_r.size))
    for first in range(0, r.size, block):
        rows = slice(first, first + block)
        rr, dz = r[rows, None], z[rows, None] - ring_z[None, :]
        base = rr**2 + ring_r**2 + dz**2
        terms = np.empty((angles + 1, parts, *dz.shape))
        for k, c in enumerate(np.cos(alpha)):
            inverse = np.divide(1.0, np.sqrt(base - (2 * c) * rr * ring_r), out=terms[k, 0])
            if gradient:
                cube = inverse * inverse * inverse
                np.multiply(cube, rr - c * ring_r, out=terms[k, 1])
                np.multiply(cube, dz, out=terms[k, 2])
        out[:, :, rows] = (cosines @ terms.reshape(angles + 1, -1)).reshape(orders, parts, *dz.shape)
    return out
