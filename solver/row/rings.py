"""A pole's magnetisation as a few rings of charge, and the potentials that rings make.

Everything a pole exchanges with the world (coil, neighbours, strings) is a harmonic potential, smooth in
the pole. So the potential is handed over at a coarse tensor grid (r_k, z_l) in each part (polynomials in
r² times r^m, Chebyshev points in z, panels that shrink towards the face; under the face itself the unknowns
are taken one by one), and by the same interpolation backwards the charges of all unknowns become charges of
those rings: q_ring = Eᵀ q. A ring of charge with
density cos mφ' makes, at (r, z) and azimuth φ,

    φ = cos(mφ) q/(4π) ∮ cos(mα)/R dα,   R² = r² + r'² − 2 r r' cos α + (z − z')²

with the trapezoidal rule in α, which converges geometrically, and close to a ring by toroidal functions.

References
----------
Toroidal functions: H. S. Cohl, J. E. Tohline, "A compact cylindrical Green's function expansion for the solution of
potential problems", *Astrophys. J.* 527 (1999) 86 (memory). The rule in α: L. N. Trefethen, J. A. C. Weideman, "The
exponentially convergent trapezoidal rule", *SIAM Review* 56 (2014) 385 (memory). Handing over by interpolation:
derived here.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from scipy.special import ellipe, ellipkm1

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import PartShape

from ..interpolation import chebyshev, lagrange
from ..section.space import Section
from .numerics import SHIPPED, RowNumerics

_MIDDLE = 0.4e-3  # m: how far about the axis unknowns under the face are no rings
_CLOSE = 0.5  # χ − 1 under which a ring is close: from there on eight angles and as many as orders give five digits
_DIGITS = 14.0  # e^14 of round-off is what the highest order's recursion may make of it
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


def near_rings(section: Section, orders: int = 3, numerics: RowNumerics = SHIPPED) -> Rings:
    """Rings that resolve the fields of a string close to the face: in the skin under it the unknowns themselves."""
    shape, depth = section.shape, numerics.skin
    top = shape.parts[0]
    r, z = section.nodes[:, section.pole]
    skin = np.flatnonzero(_distance(r, z, face_edge(top)) < depth)
    deep = np.setdiff1d(np.arange(section.pole.size), skin)
    middle, own = skin[r[skin] < _MIDDLE], skin[r[skin] >= _MIDDLE]
    made = _parts(section, deep, orders, radial=max(8, int(np.ceil(numerics.skin_radii * top.radius))), per_panel=7,
                  depths=(depth, 1.6e-3, 5e-3))
    low, high = float(z[middle].min()), float(z[middle].max())  # 1/r^m on the axis itself is none
    made.append(_panel(middle, min(_MIDDLE, top.radius), low, high, r, z, orders, 5, 6))
    made.append(_Block(rows=own, r=r[own], z=z[own], spread=[np.diag(r[own] ** -m) for m in range(orders)]))
    return _joined(section, made, orders)


def far_rings(section: Section, orders: int = 3, numerics: RowNumerics = SHIPPED) -> Rings:
    """Coarser grid, enough for the fields of neighbours a pitch away."""
    every = np.arange(section.pole.size)
    return _joined(section, _parts(section, every, orders, radial=numerics.far_radii, per_panel=numerics.far_heights,
                                   depths=()), orders)


def face_edge(part: PartShape) -> Array:
    """The upper surface of a part, (n, 2): its outline without the axis, the bottom and the side."""
    return np.array([p for p in part.outline if p[1] > part.bottom])


def _distance(r: Array, z: Array, line: Array) -> Array:
    """From points (n,) to a line of straight pieces, m."""
    a, b = line[:-1, :, None], line[1:, :, None]
    p, d = np.stack([r, z]) - a, b - a
    share = np.clip(np.sum(p * d, axis=1) / np.maximum(np.sum(d * d, axis=1), 1e-30), 0.0, 1.0)
    return np.asarray(np.sqrt(np.sum((p - share[:, None] * d) ** 2, axis=1)).min(axis=0))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Block:
    """Rings that some unknowns of the pole are interpolated from: by order (rows, rings)."""

    rows: Any
    r: Array
    z: Array
    spread: list[Array]


def _parts(section: Section, rows: Any, orders: int, *, radial: int, per_panel: int,
           depths: tuple[float, ...]) -> list[_Block]:
    """Panels for the unknowns `rows`, part by part; the uppermost breaks at `depths` under its top."""
    shape = section.shape
    r, z = section.nodes[:, section.pole]
    owner = np.full(section.unknowns, -1)
    for i in reversed(range(len(shape.parts))):
        owner[section.parts[i].element_dofs.ravel()] = i
    owner = owner[section.pole]
    out = []
    for i, part in enumerate(shape.parts):
        tall = part.top - part.bottom
        edges = [part.top, *[part.top - d for d in depths if i == 0 and d < 0.7 * tall], part.bottom]
        mine = rows[owner[rows] == i]
        panel = np.clip(np.searchsorted(-np.array(edges), -z[mine]) - 1, 0, len(edges) - 2)
        for j, (high, low) in enumerate(pairwise(edges)):
            if np.any(panel == j):
                out.append(_panel(mine[panel == j], part.radius, low, high, r, z, orders, radial, per_panel))
    return out


def _panel(rows: Any, radius: float, low: float, high: float, r: Array, z: Array, orders: int, radial: int,
           axial: int) -> _Block:
    rk = radius * np.cos((2 * np.arange(radial) + 1) * np.pi / (4 * radial))
    zl = chebyshev(low, high, axial)
    R, Z = np.meshgrid(rk, zl, indexing="ij")
    radial_part, axial_part = lagrange(rk**2, r[rows] ** 2), lagrange(zl, z[rows])
    blocks = []
    for m in range(orders):
        p = m if m < 4 else 2 + m % 2  # φ/r^p is as good a polynomial in r², and 1/r_k^m would drown in round-off
        with np.errstate(divide="ignore"):
            rest = np.where(r[rows] > 0, r[rows] ** (p - m), 0.0) if p < m else np.ones(len(rows))
        blocks.append(np.einsum("nk,nl->nkl", radial_part / rk**p * rest[:, None], axial_part).reshape(len(rows), -1))
    return _Block(rows=rows, r=R.ravel(), z=Z.ravel(), spread=blocks)


def _joined(section: Section, blocks: list[_Block], orders: int) -> Rings:
    r, z = np.concatenate([b.r for b in blocks]), np.concatenate([b.z for b in blocks])
    spread = [np.zeros((section.pole.size, r.size)) for _ in range(orders)]
    first = 0
    for block in blocks:
        for m in range(orders):
            spread[m][block.rows, first:first + block.r.size] = block.spread[m]
        first += block.r.size
    return Rings(r=r, z=z, spread=tuple(spread))


def ring_potential(r: Array, z: Array, ring_r: Array, ring_z: Array, orders: int,
                   angles: int) -> Array:
    """∮ cos(mα)/R dα for targets (r, z) and rings, (orders, targets, rings)."""
    return ring_kernel(r, z, ring_r, ring_z, orders, angles, gradient=False)[:, 0]


def ring_kernel(r: Array, z: Array, ring_r: Array, ring_z: Array, orders: int, angles: int,
                gradient: bool = True) -> Array:
    """∮ cos(mα)/R dα and, for H = −∇φ, −∂_r and −∂_z of it: (orders, 3 or 1, targets, rings).

    `angles` trapezoidal points on the half circle; in closed form where a target is close to a ring.
    """
    parts = 3 if gradient else 1
    alpha = np.pi * np.arange(angles + 1) / angles
    weight = np.full(angles + 1, 2 * np.pi / angles)
    weight[[0, -1]] /= 2
    cosines = weight * np.cos(np.multiply.outer(np.arange(orders), alpha))
    nearly = min(_CLOSE, np.cosh(_DIGITS / orders) - 1)
    out = np.empty((orders, parts, r.size, ring_r.size))
    block = max(1, _BLOCK // ((angles + 1) * parts * ring_r.size))
    for first in range(0, r.size, block):
        rows = slice(first, first + block)
        rr, dz = r[rows, None], z[rows, None] - ring_z[None, :]
        base = rr**2 + ring_r**2 + dz**2
        terms = np.empty((angles + 1, parts, *dz.shape))
        with np.errstate(divide="ignore", invalid="ignore"):  # on a ring itself: the closed form's turn
            for k, c in enumerate(np.cos(alpha)):
                inverse = np.divide(1.0, np.sqrt(base - (2 * c) * rr * ring_r), out=terms[k, 0])
                if gradient:
                    cube = inverse * inverse * inverse
                    np.multiply(cube, rr - c * ring_r, out=terms[k, 1])
                    np.multiply(cube, dz, out=terms[k, 2])
            out[:, :, rows] = (cosines @ terms.reshape(angles + 1, -1)).reshape(orders, parts, *dz.shape)
        close, ring = np.nonzero((rr - ring_r) ** 2 + dz**2 < 2 * nearly * rr * ring_r)
        out[:, :, first + close, ring] = _near_ring(rr[close, 0], ring_r[ring], dz[close, ring], orders)[:, :parts]
    return out


def _near_ring(r: Array, a: Array, dz: Array, orders: int) -> Array:
    """The same for pairs (n,) of a target and a ring of radius a, (orders, 3, n), by toroidal functions.

    ∮ cos(mα)/R dα = 2/√(ra) Q_{m−1/2}(χ), χ = (r² + a² + dz²)/(2ra); Q_{±1/2} from complete elliptic integrals,
    then upwards, which loses few digits for a small χ (NIST DLMF 14.5(v), 14.10).
    """
    nearly = ((r - a) ** 2 + dz**2) / (2 * r * a)  # χ − 1
    chi = 1 + nearly
    k = np.sqrt(2 / (chi + 1))
    K, E = ellipkm1(nearly / (chi + 1)), ellipe(2 / (chi + 1))
    Q = [k * K, chi * k * K - np.sqrt(2 * (chi + 1)) * E]
    for m in range(1, orders):
        Q.append((2 * m * chi * Q[m] - (m - 0.5) * Q[m - 1]) / (m + 0.5))
    out = np.empty((orders, 3, r.size))
    scale = 2 / np.sqrt(r * a)
    for m in range(orders):
        slope = (m - 0.5) * (chi * Q[m] - Q[abs(m - 1)]) / (nearly * (chi + 1))
        out[m, 0] = scale * Q[m]
        out[m, 1] = -scale * (slope * (1 / a - chi / r) - Q[m] / (2 * r))
        out[m, 2] = -scale * slope * dz / (r * a)
    return out
