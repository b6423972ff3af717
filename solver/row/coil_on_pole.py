"""The coil's air field at a pole, as scalar potentials of azimuthal order 0, 1, 2.

Inside the window there is no current, so H = −∇φ there. On a small grid in (r, z) of each part the closed
form of :mod:`.coil.air` is sampled around the pole's axis and split into orders cos mα, α from the +y axis
(the coil is even in x, so there are no sines)::

    m ≥ 1:  φ_m = r H_α,m / m                   (H_α = Σ (m φ_m / r) sin mα)
    m = 0:  φ_0 = −∫ H_z,0 dz on each radius, joined by −∫ H_r,0 dr

and interpolated to the pole's unknowns (polynomials in r², panels in z that break at the coil's ends).

References
----------
Derived here.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import PartShape, PlacedPole, Racetrack

from ..coil.air import field
from ..constants import MU0
from ..interpolation import chebyshev, lagrange
from ..section.space import Section
from .numerics import SHIPPED, RowNumerics

Ints = npt.NDArray[np.int64]

def coil_potentials(coil: Racetrack, pole: PlacedPole, section: Section, orders: int,
                    numerics: RowNumerics = SHIPPED) -> Array:
    """v = φ_m / r^m of the coil in air at the pole's unknowns.

    Returns
    -------
    array (orders, k)
        In A per ampere; k = len(section.pole).
    """
    owner = np.full(section.unknowns, -1)
    for i, basis in enumerate(section.parts):
        owner[basis.element_dofs.ravel()] = i
    return potentials_at(coil, pole, section.nodes[:, section.pole], owner[section.pole], orders, numerics)


def potentials_at(coil: Racetrack, pole: PlacedPole, nodes: Array, owner: Ints, orders: int,
                  numerics: RowNumerics = SHIPPED) -> Array:
    """The same at any places (2, k) in the parts that `owner` (k,) numbers."""
    nodes_r, nodes_z = nodes
    n_radii, n_heights = numerics.coil_radii, numerics.coil_heights
    out = np.zeros((orders, nodes_r.size))
    level = 0.0  # φ_0 on the axis at the part's lower end
    order = np.argsort([p.bottom for p in pole.shape.parts])
    for i in order:
        part = pole.shape.parts[i]
        radii = part.radius * np.cos((2 * np.arange(n_radii) + 1) * np.pi / (4 * n_radii))
        edges = part_panels(coil, pole.face, part)
        heights = np.stack([chebyshev(low, high, n_heights) for low, high in pairwise(edges)])
        hr, ha, hz = (h.reshape(orders, n_radii, *heights.shape)
                      for h in _sample(coil, pole, radii, heights.ravel(), orders, numerics))
        phi = np.zeros((orders, n_radii, *heights.shape))
        phi[0], level = _axial_potential(hr[0], hz[0], radii, edges, level)
        for m in range(1, orders):
            phi[m] = radii[:, None, None] * ha[m] / m
        mine = np.flatnonzero(owner == i)
        panel = np.clip(np.searchsorted(edges, nodes_z[mine]) - 1, 0, len(edges) - 2)
        for j in range(len(edges) - 1):
            rows = mine[panel == j]
            radial, axial = lagrange(radii**2, nodes_r[rows] ** 2), lagrange(heights[j], nodes_z[rows])
            for m in range(orders):
                out[m, rows] = np.einsum("nk,nl,kl->n", radial, axial, phi[m, :, j] / radii[:, None] ** m)
    return out


def part_panels(coil: Racetrack, face: float, part: PartShape) -> Array:
    """Panel edges over a part's height, broken at the coil's faces, none very short."""
    low, high = part.bottom, part.top
    thin = 0.05 * (high - low)
    breaks = sorted(z - face for z in (coil.bottom, coil.top))
    return np.array([low, *[z for z in breaks if low + thin < z < high - thin], high])


def _sample(coil: Racetrack, pole: PlacedPole, radii: Array, heights: Array, orders: int,
            numerics: RowNumerics) -> tuple[Array, Array, Array]:
    """H_r, H_α, H_z of each order, (orders, radii, heights) each; H_α,m multiplies sin mα."""
    angles = numerics.coil_angles
    alpha = (np.arange(angles) + 0.5) * np.pi / angles
    R, A, Z = np.meshgrid(radii, alpha, heights, indexing="ij")
    H = field(coil, np.stack([R * np.sin(A), pole.y + R * np.cos(A), Z + pole.face]), numerics.end_angles) / MU0
    radial = H[1] * np.cos(A) + H[0] * np.sin(A)
    around = -H[1] * np.sin(A) + H[0] * np.cos(A)
    m = np.arange(orders)[:, None]
    scale = np.where(m == 0, 1.0, 2.0) / angles
    even, odd = scale * np.cos(m * alpha), scale * np.sin(m * alpha)
    return (np.einsum("ma,raz->mrz", even, radial), np.einsum("ma,raz->mrz", odd, around),
            np.einsum("ma,raz->mrz", even, H[2]))


def _axial_potential(hr: Array, hz: Array, radii: Array, edges: Array, level: float) -> tuple[Array, float]:
    """φ_0 (radii, panels, heights), `level` on the axis at the lowest edge; and its value at the highest."""
    n = hz.shape[2]
    t = chebyshev(-1.0, 1.0, n)
    T = np.polynomial.chebyshev
    to_coefficients = np.linalg.inv(T.chebvander(t, n - 1))
    integral = T.chebint(to_coefficients, axis=0, lbnd=-1)  # coefficients of ∫ from the panel's low edge
    at_nodes, at_top = T.chebvander(t, n) @ integral, T.chebvander(np.array([1.0]), n) @ integral
    # ∫ H_r dr from the axis at every sample, H_r = r × polynomial in r²
    k = np.arange(radii.size)
    odd = np.linalg.inv(radii[:, None] ** (2 * k + 1))
    across = np.einsum("rk,kj,jpz->rpz", radii[:, None] ** (2 * k + 2) / (2 * k + 2), odd, hr)
    axis = np.zeros_like(hz[0])
    on_axis = np.einsum("r,rpz->pz", lagrange(radii**2, np.zeros(1))[0], hz)
    for p in range(hz.shape[1]):
        half = (edges[p + 1] - edges[p]) / 2
        axis[p] = level - half * at_nodes @ on_axis[p]
        level -= half * float((at_top @ on_axis[p])[0])
    return np.asarray(axis[None] - across), level
