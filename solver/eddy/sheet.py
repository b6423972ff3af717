r"""Eddy currents in thin conducting sheets that are not magnetic: covers, base plates, shields.

The current per width K (A/m) comes from a stream function ψ (A), 0 on free edges and continuous over folds; ψ n is
a layer of magnetic moment per area. With basis functions w, linear on triangles, and the coil's b per ampere in one
turn (bodies of steel in place)::

    K = ∇ψ × n,        (R + jω L) ψ = −jω Φ,        Φ_i = ∫ w_i b·n dS
    R_ij = ∫ ∇w_i·∇w_j/(σ t) dS,      L_ij = (μ0/4π) ∬ K_i·K_j/|r − r'| dS dS'

By reciprocity what the coil sees is ΔL_c = Φᵀψ = −jω Φᵀ(R + jωL)⁻¹Φ, whose real part is negative and whose imaginary
part too (a loss). The modes L v = τ R v, vᵀR v = 1, make all frequencies cheap::

    ψ = −Σ v (vᵀΦ) jω/(1 + jωτ)

The current is even over the thickness, which holds while t is below the skin depth (brass at 20 kHz: 0.9 mm). Of a
pattern with the wave number k, L is (μ0/2k)(1 − kt/3 + …) for currents so spread, not μ0/2k; taken as
(μ0/2k)/(1 + kt/3), that is L ← L (L + M)⁻¹ L with M_ij = (μ0/6) ∫ t K_i·K_j dS, it stays positive.

Steel answers the coil inside b, at both ends of ΔL_c. That it answers the sheet's own field once more is left out
here: :mod:`.sheets_and_bodies` puts it in.

References
----------
Stream function on thin conductors, and its modes: A. Kameari, "Transient eddy current analysis on thin conductors
with arbitrary connections and shapes", *J. Comput. Phys.* 42 (1981) 124 (memory). What the thickness takes from L:
derived here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from scipy.linalg import cho_factor, cho_solve, eigh
from scipy.spatial.distance import cdist

from stringflux.geometry.arrays import Array, ComplexArray

from ..constants import MU0
from ..triangle_potential import gradient, on_itself, potential
from .sheet_mesh import SheetMesh

_NEAR = 2.0  # pairs nearer than this many times the sum of their radii are integrated in closed form
THREE_POINTS = np.array([[4, 1, 1], [1, 4, 1], [1, 1, 4]]) / 6.0  # points of degree 2, equal weights
_ROWS = 400  # triangles at a time, for memory


def _six_points() -> tuple[Array, Array]:
    """Points (6, 3) and weights (6,) of degree 4 on a triangle (Dunavant 1985)."""
    a, b = 0.445948490915965, 0.091576213509771
    points = [[1 - 2 * c if i == j else c for j in range(3)] for c in (a, b) for i in range(3)]
    return np.array(points), np.repeat([0.223381589678011, 0.109951743655322], 3)


@dataclass(frozen=True, kw_only=True, eq=False)
class Sheet:
    """One or several sheets, each with its conductance.

    Attributes
    ----------
    mesh : SheetMesh
    conductivity, thickness : sequence of float
        σ in S/m and t in m of every body of the mesh.
    """

    mesh: SheetMesh
    conductivity: Sequence[float]
    thickness: Sequence[float]

    @cached_property
    def corners(self) -> Array:
        """(3 corners, 3, triangles), m."""
        return np.asarray(self.mesh.points[:, self.mesh.triangles].transpose(1, 0, 2))

    @cached_property
    def area_normal(self) -> tuple[Array, Array]:
        """Areas (m,), m², and unit normals (3, m)."""
        c = self.corners
        n = np.cross(c[1] - c[0], c[2] - c[0], axis=0)
        twice = np.linalg.norm(n, axis=0)
        return twice / 2, n / twice

    @cached_property
    def curl(self) -> Array:
        """K in every triangle (3, m, unknowns) of every unknown, 1/m."""
        c, (area, _) = self.corners, self.area_normal
        out = np.zeros((3, area.size, self.mesh.points.shape[1]))
        for i in range(3):
            # ∇w × n runs along the opposite edge, in the sense of the corners
            opposite = c[(i + 2) % 3] - c[(i + 1) % 3]
            out[:, np.arange(area.size), self.mesh.triangles[i]] += opposite / (2 * area)
        return out[:, :, self.mesh.inner]

    @cached_property
    def resistance(self) -> Array:
        """R (unknowns, unknowns), Ω."""
        return self._products(1 / (np.asarray(self.conductivity) * np.asarray(self.thickness)))

    @cached_property
    def inductance(self) -> Array:
        """L (unknowns, unknowns), H."""
        pairs = MU0 / (4 * np.pi) * self._pairs()
        thin = sum_over(self.curl, np.stack([pairs @ k for k in self.curl]))
        spread = self._products(MU0 / 6 * np.asarray(self.thickness))
        return np.asarray(thin @ cho_solve(cho_factor(thin + spread), thin))

    @cached_property
    def modes(self) -> tuple[Array, Array]:
        """Time constants τ (unknowns,), s, falling, and v (unknowns, unknowns) of the modes."""
        tau, v = eigh(self.inductance, self.resistance)
        return tau[::-1].copy(), v[:, ::-1].copy()

    def flux(self, b: Callable[[Array], npt.NDArray[np.inexact]]) -> npt.NDArray[np.inexact]:
        """Φ (..., unknowns) in Wb of a field b(points (3, p)) -> (..., 3, p) in T."""
        area, n = self.area_normal
        points = np.einsum("qc,cim->imq", THREE_POINTS, self.corners)
        field = np.asarray(b(points.reshape(3, -1)))
        through = np.einsum("...imq,im,m->...mq", field.reshape(*field.shape[:-1], area.size, 3), n, area / 3)
        share = through @ THREE_POINTS  # (..., m, corners)
        flat = share.reshape(-1, area.size, 3)
        out = np.zeros((flat.shape[0], self.mesh.points.shape[1]), dtype=share.dtype)
        for i in range(3):
            for row, values in zip(out, flat[:, :, i], strict=True):
                np.add.at(row, self.mesh.triangles[i], values)
        return out[:, self.mesh.inner].reshape(*share.shape[:-2], self.mesh.inner.size)

    def currents(self, frequency: Array, flux: npt.NDArray[np.inexact]) -> ComplexArray:
        """ψ (f, coils, unknowns) in A, per ampere where the flux is.

        Parameters
        ----------
        frequency : array (f,)
            Hz.
        flux : array (coils, unknowns) or (f, coils, unknowns)
            Φ of every coil; the second where b itself changes with the frequency.
        """
        tau, v = self.modes
        s = 2j * np.pi * np.asarray(frequency, dtype=float)[:, None, None]
        return np.asarray(-((flux @ v) * (s / (1 + s * tau))) @ v.T)

    def added_inductance(self, frequency: Array, flux: npt.NDArray[np.inexact]) -> ComplexArray:
        """ΔL_c (f, coils, coils), H per turn²: L − jR/ω between the coils; arguments as in :meth:`currents`."""
        psi = self.currents(frequency, flux)
        return np.asarray(psi @ np.swapaxes(np.broadcast_to(flux, psi.shape), -1, -2))

    def field_operator(self, points: Array) -> Array:
        """b (3, p, unknowns) at points (3, p) off the sheet, T per ampere of ψ."""
        out = np.zeros((3, points.shape[1], self.mesh.inner.size))
        for start in range(0, points.shape[1], _ROWS):
            at = slice(start, start + _ROWS)
            g = gradient(points[:, at, None], self.corners[:, :, None, :])
            for i in range(3):  # B = (μ0/4π) ∇I × K
                j, k = (i + 1) % 3, (i + 2) % 3
                out[i, at] = g[j] @ self.curl[k] - g[k] @ self.curl[j]
        return MU0 / (4 * np.pi) * out

    def field(self, points: Array, psi: npt.NDArray[np.inexact]) -> npt.NDArray[np.inexact]:
        """b (..., 3, p) of currents ψ (..., unknowns)."""
        return np.asarray(np.einsum("ipn,...n->...ip", self.field_operator(points), psi, optimize=True))

    def _products(self, of_body: Array) -> Array:
        """∫ c K_i·K_j dS with a number c of every body."""
        per = self.area_normal[0] * of_body[self.mesh.body]
        return sum_over(self.curl, self.curl * per[:, None])

    def _pairs(self) -> Array:
        """∬ dS dS'/R between triangles (m, m), m³."""
        c, (area, _) = self.corners, self.area_normal
        m = area.size
        three = np.einsum("qc,cim->mqi", THREE_POINTS, c).reshape(-1, 3)
        out = np.zeros((m, m))
        for start in range(0, m, _ROWS):
            rows = slice(start, min(start + _ROWS, m))
            distance = cdist(three[3 * rows.start:3 * rows.stop], three)
            np.maximum(distance, 1e-9, out=distance)  # a point on itself: replaced below
            out[rows] = (1 / distance).reshape(-1, 3, m, 3).mean(axis=(1, 3))
        out *= np.outer(area, area)
        centre = c.mean(0)
        radius = np.max(np.linalg.norm(c - centre, axis=1), axis=0)
        near = cdist(centre.T, centre.T) < _NEAR * (radius[:, None] + radius)
        np.fill_diagonal(near, False)
        i, j = np.nonzero(near)
        points, weights = _six_points()
        exact = np.zeros(i.size)
        for q, w in zip(points, weights, strict=True):
            exact += w * potential(np.einsum("c,cim->im", q, c)[:, i], c[:, :, j])
        out[i, j] = exact * area[i]
        out = (out + out.T) / 2
        np.fill_diagonal(out, on_itself(c))
        return out


def sum_over(left: Array, right: Array) -> Array:
    """Σ over components and triangles of left·right."""
    n = left.shape[2]
    return np.asarray(left.reshape(-1, n).T @ right.reshape(-1, n))
