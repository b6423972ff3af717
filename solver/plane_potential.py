r"""Scalar potential on a section of bars whose fields go along y as cos ky: where flux may also run along the bars.

With φ(x, z) cos ky, χ the susceptibility (a tensor in the section, χ_y along the bars) and what drives it as a load::

    ∫ (1 + χ) ∇φ·∇w + k² (1 + χ_y) φ w dx dz + ∮ γ φ w ds = load(w)
    γ = 1/ρ at k = 0 (a line dipole),   k K₁(kρ)/K₀(kρ) at k > 0 (a line charge)

on the far circle of radius ρ. The vector potential of :mod:`.plane_signal` knows no net flux out of a bar at one y;
this does. Of half a section φ is even in x, or with `odd` 0 at x = 0.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import csc_matrix, diags_array
from scipy.special import kve
from skfem import BilinearForm, LinearForm

from stringflux.geometry.arrays import Array

from .forms import PLANAR
from .point_operators import PointOperators, point_operators
from .section import Section, factor

_AXIS = 1e-9  # metres


@dataclass(frozen=True, kw_only=True, eq=False)
class PotentialPlane:
    """The space of one section.

    Attributes
    ----------
    section : Section
    half : bool
        Whether it is the half x ≥ 0.
    """

    section: Section
    half: bool

    @cached_property
    def points(self) -> list[PointOperators]:
        """Gradients at the quadrature points of each part."""
        return [point_operators(b, PLANAR) for b in self.section.parts]

    @cached_property
    def _air(self) -> tuple[Any, Any]:
        """∫ ∇u·∇w and ∫ u w over the air."""
        air = self.section.air
        return _stiffness.assemble(air).tocsr(), _mass.assemble(air, c=_ones(air))

    @cached_property
    def _rim(self) -> Any:
        return _mass.assemble(self.section.far, c=_ones(self.section.far))

    @property
    def radius(self) -> float:
        """ρ, m."""
        return self.section.mesh.far_radius

    def masses(self, along: Sequence[Array]) -> list[Any]:
        """∫ c u w over each part, c (elements, points)."""
        return [_mass.assemble(b, c=c).tocsr() for b, c in zip(self.section.parts, along, strict=True)]

    def free(self, odd: bool) -> npt.NDArray[np.int64]:
        """The unknowns that are not 0 by symmetry."""
        if not (odd and self.half):
            return np.arange(self.section.unknowns)
        return np.flatnonzero(np.abs(self.section.nodes[0]) > _AXIS)

    def solver(self, k: float, across: Sequence[Array], masses: Sequence[Any],
               odd: bool = False) -> Callable[[Array], Array]:
        """From loads (n, m) to potentials (n, m), the susceptibility as :func:`tensor` and `masses` of 1 + χ_y."""
        stiff, mass = self._air
        rho = self.radius
        gamma = 1 / rho if k == 0 else float(k * kve(1, k * rho) / kve(0, k * rho))
        K = stiff + gamma * self._rim
        for p, chi in zip(self.points, across, strict=True):
            K = K + p.gradient.T @ (weighted(p, chi, 1.0) @ p.gradient)
        if k:
            K = K + k * k * (mass + sum(masses))
        own = self.free(odd)
        lu = factor(csc_matrix(K)[own][:, own])
        n = self.section.unknowns

        def solve(load: Array) -> Array:
            out = np.zeros((n, load.shape[1]))
            out[own] = lu.solve(load[own])
            return out

        return solve

    def rim_loads(self, orders: Sequence[int], odd: bool) -> Array:
        """∮ w cos mθ (odd: sin mθ) ds, θ from z upwards, (n, orders): what far sources are like."""
        s, middle = self.section, self._middle
        out = []
        for m in orders:
            def form(v: Any, w: Any, m: int = m) -> Any:
                theta = np.arctan2(w.x[0] - middle, w.x[1] - s.mesh.far_centre)
                return v * (np.sin(m * theta) if odd else np.cos(m * theta))
            out.append(LinearForm(form).assemble(s.far))
        return np.stack(out, axis=1)

    @property
    def _middle(self) -> float:
        if self.half:
            return 0.0
        x = self.section.nodes[0]
        return float(x.max() + x.min()) / 2

    def in_air(self, charges: Array, odd: bool) -> Array:
        """−(1/2π) Σ q ln(d/ρ) of line charges q (n, m) in A, seen through the functions: potentials (n, m).

        Beyond the circle a net charge Q makes −(Q/2π) ln(r/ρ) and the rest falls as a line dipole, so there
        ∂φ/∂r + φ/ρ = −Q/2πρ.
        """
        stiff, _ = self._air
        K = stiff + self._rim / self.radius
        for p in self.points:
            K = K + p.gradient.T @ (diags_array(np.tile(p.weight, 2)) @ p.gradient)
        own = self.free(odd)
        lu = factor(csc_matrix(K)[own][:, own])
        net = charges.sum(axis=0) * (2.0 if self.half else 1.0)
        rim = np.asarray(self._rim.sum(axis=1)).ravel()
        load = charges - (0.0 if odd else 1.0) * np.outer(rim, net) / (2 * np.pi * self.radius)
        out = np.zeros_like(charges)
        out[own] = lu.solve(load[own])
        return out


def weighted(points: PointOperators, chi: Array, plus: float = 0.0) -> Any:
    """(χ + plus) times the weights as a matrix on gradients; χ (3, e, q) is xx, xz, zz."""
    xx, xz, zz = (c.ravel() * points.weight for c in chi)
    q = points.weight.size
    base = plus * points.weight
    return diags_array([np.concatenate([xx + base, zz + base]), xz, xz], offsets=[0, q, -q], shape=(2 * q, 2 * q))


def times(chi: Array, h: Array) -> Array:
    """χ h for h (2, …)."""
    return np.stack([chi[0] * h[0] + chi[1] * h[1], chi[1] * h[0] + chi[2] * h[1]])


def _ones(basis: Any) -> Array:
    return np.ones(basis.dx.shape)


@BilinearForm
def _stiffness(u: Any, v: Any, w: Any) -> Any:
    return u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1]


@BilinearForm
def _mass(u: Any, v: Any, w: Any) -> Any:
    return w["c"] * u * v
