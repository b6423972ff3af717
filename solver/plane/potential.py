r"""Scalar potential on a section of bars whose fields go along y as cos ky: where flux may also run along the bars.

With φ(x, z) cos ky, χ the susceptibility (a tensor in the section, χ_y along the bars) and what drives it as a load::

    ∫ (1 + χ) ∇φ·∇w + k² (1 + χ_y) φ w dx dz + ∮ γ φ w ds = load(w)
    γ = 1/ρ at k = 0 (a line dipole),   k K₁(kρ)/K₀(kρ) at k > 0 (a line charge)

on the far circle of radius ρ. The vector potential of :mod:`.small_signal` knows no net flux out of a bar at one y;
this does. Of half a section φ is even in x, or with `odd` 0 at x = 0.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import csc_matrix
from scipy.special import kve
from skfem import LinearForm

from stringflux.geometry.arrays import Array

from ..factor import Elimination
from ..section.operators import PointOperators, mass_matrix, stiffness_matrix
from ..section.space import Section

_AXIS = 1e-9  # metres
_DECAY = 8.0  # k times a distance over which a wave is gone
_AT_ONCE = 8  # loads; from 9 on BLAS takes ten times as long for blocks as small as a section's factor has


@dataclass(frozen=True, kw_only=True, eq=False)
class PotentialPlane:
    """The space of one section.

    Attributes
    ----------
    section : Section
    half : bool
        Whether it is the half x ≥ 0.
    order : int array (n,), optional
        An order of the unknowns that another factor on the same mesh went by.
    """

    section: Section
    half: bool
    order: npt.NDArray[np.int64] | None = None

    @property
    def points(self) -> list[PointOperators]:
        """Gradients at the quadrature points of each part."""
        return self.section.points

    @cached_property
    def _empty(self) -> tuple[Any, Any]:
        """∫ ∇u·∇w and ∫ u w over all of the section."""
        whole = self.section.basis
        return stiffness_matrix(whole), mass_matrix(whole, np.ones(whole.dx.shape))

    @cached_property
    def _rim(self) -> Any:
        far = self.section.far
        return mass_matrix(far, np.ones(far.dx.shape))

    @property
    def radius(self) -> float:
        """ρ, m."""
        return self.section.mesh.far_radius

    def masses(self, along: Sequence[Array]) -> list[Any]:
        """∫ c u w over each part, c (elements, points)."""
        return [mass_matrix(b, c) for b, c in zip(self.section.parts, along, strict=True)]

    def stiffness(self, across: Sequence[Array]) -> Any:
        """∫ χ ∇u·∇w over all parts, χ (3, e, q) of each being xx, xz, zz."""
        return sum(p.stiffness(c) for p, c in zip(self.points, across, strict=True))

    def free(self, odd: bool) -> npt.NDArray[np.int64]:
        """The unknowns that are not 0 by symmetry."""
        if not (odd and self.half):
            return np.arange(self.section.unknowns)
        return np.flatnonzero(np.abs(self.section.nodes[0]) > _AXIS)

    @cached_property
    def _eliminated(self) -> npt.NDArray[np.int64]:
        """All unknowns in an order that leaves few entries in a factor; every form here has the same pattern."""
        if self.order is not None:
            return self.order
        return Elimination(sum(self._empty)).order

    def _kept(self, odd: bool) -> npt.NDArray[np.int64]:
        """The free unknowns in that order."""
        return self._eliminated[np.isin(self._eliminated, self.free(odd))]

    def waves(self, stiffness: Any, mass: Any,
              odd: bool = False, near: float = np.inf) -> Callable[[float], Callable[[Array], Array]]:
        """From k to what makes potentials (n, m) of loads (n, m); the stiffness of χ and the mass of χ_y. Of loads by
        what stands `near` the top, m, no more is solved than where waves reach."""
        own = self._kept(odd)
        forms = (self._empty[0] + stiffness, self._empty[1] + mass, self._rim)
        stiff, mass, rim = (csc_matrix(m)[own][:, own] for m in forms)
        rho = self.radius
        nodes = self.section.nodes[:, own]
        away = np.hypot(nodes[0] - self._middle, nodes[1] - self.section.shape.top)

        def solver(k: float) -> Callable[[Array], Array]:
            gamma = 1 / rho if k == 0 else float(k * kve(1, k * rho) / kve(0, k * rho))
            matrix = stiff + gamma * rim + k * k * mass
            if np.isinf(near) or k == 0:
                return self._solve(matrix, own)
            within = np.flatnonzero(away < near + _DECAY / k)
            return self._solve(matrix if within.size == own.size else matrix[within][:, within], own[within])

        return solver

    def _solve(self, matrix: Any, own: npt.NDArray[np.int64]) -> Callable[[Array], Array]:
        lu = Elimination(matrix, ordered=True)

        def solve(load: Array) -> Array:
            out = np.zeros((self.section.unknowns, load.shape[1]))
            for first in range(0, load.shape[1], _AT_ONCE):
                some = slice(first, first + _AT_ONCE)
                out[own, some] = lu.solve(load[own, some])
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
        K = self._empty[0] + self._rim / self.radius
        own = self._kept(odd)
        net = charges.sum(axis=0) * (2.0 if self.half else 1.0)
        rim = np.asarray(self._rim.sum(axis=1)).ravel()
        load = charges - (0.0 if odd else 1.0) * np.outer(rim, net) / (2 * np.pi * self.radius)
        return self._solve(csc_matrix(K)[own][:, own], own)(load)


def times(chi: Array, h: Array) -> Array:
    """χ h for h (2, …)."""
    return np.stack([chi[0] * h[0] + chi[1] * h[1], chi[1] * h[0] + chi[2] * h[1]])
