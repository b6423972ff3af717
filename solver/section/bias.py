"""Bias cell: one section's own magnets on their whole curves, by Newton's method.

Find u (A = r^s u, :mod:`.forms`) with, for all w,

    Σ_parts ∫ [H(B) − ν0 B_ext]·curl w r^g + ∫_air ν0 curl u·curl w r^g + far = 0,  B = curl u + B_ext

B_ext is the field of the other poles (m = 0 part), which solves the equations of free space, hence the
ν0 B_ext. H(B) of magnets and soft parts: :mod:`..materials.h_of_b`. Where neighbours magnetise a magnet unevenly
round its axis, the H along it is the mean over the angles (:mod:`.row.bias_waves`). Exact tangent, kept while a step
still takes nine tenths off the residual; halving line search; stop at 1e-8 of the load of the magnets.

References
----------
Newton's method on saturable sections: P. Silvester, M. V. K. Chari, "Finite element solution of saturable magnetic
field problems", *IEEE Trans. Power Appar. Syst.* 89 (1970) 1642 (memory). Other poles by B_ext: derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError

from ..constants import MU0, NU0
from ..factor import Factor, factor
from ..materials.h_of_b import in_section
from ..materials.kinds import BodyMaterial
from .operators import PointOperators
from .space import Section

TOLERANCE = 1e-8
MAX_ITERATIONS = 40


@dataclass(frozen=True, kw_only=True, eq=False)
class BiasState:
    """A solved bias cell.

    Attributes
    ----------
    u : array (unknowns,)
        A / r^s of the section's own field, T (planar: T·m).
    b : tuple of arrays (2, elements, points)
        Total B_r (in the plane B_x) and B_z, T, at the quadrature points of each part.
    charges : array (unknowns,)
        ∫ M·∇w r^g dr dz, A·m (planar: A); zero off the parts.
    iterations : int
        Newton steps taken.
    """

    u: Array
    b: tuple[Array, ...]
    charges: Array
    iterations: int


@dataclass(kw_only=True, eq=False)
class Tangent:
    """The last factored tangent of a run of solves on one cell.

    It belongs to the run, not to the cell: where chord steps end depends on it, and a cell serves several runs.

    Attributes
    ----------
    at : array (unknowns,) or None
        The u it was taken at.
    lu : Factor or None
        Its factor, which does not go to a disk; :meth:`BiasCell.run` makes it again.
    """

    at: Array | None = None
    lu: Factor | None = None

    def __getstate__(self) -> dict[str, Any]:
        return {"at": self.at, "lu": None}


@dataclass(frozen=True, kw_only=True, eq=False)
class BiasCell:
    """The nonlinear problem of one section.

    Attributes
    ----------
    section : Section
    materials : tuple
        One per part, magnets and soft ones.
    """

    section: Section
    materials: tuple[BodyMaterial, ...]
    _cache: dict[str, Any] = field(default_factory=dict)

    def solve(self, v_ext: Array | None = None, start: BiasState | None = None,
              history: BiasState | None = None, tolerance: float = TOLERANCE,
              tangent: Tangent | None = None, waves: Sequence[Array] | None = None) -> BiasState:
        """Solve for the field.

        Parameters
        ----------
        v_ext : array (k,), optional
            Scalar potential (A) of the other poles' field at `section.pole`.
        start : BiasState, optional
            Where to begin.
        history : BiasState, optional
            State that each magnet has been in before: above that state's B it moves on its recoil line.
        tangent : Tangent, optional
            Of the solves before this one: kept while it converges (chord steps), and changed.
        waves : sequence of arrays (orders, elements, points), optional
            What of B_z goes as cos mα in each part, m = 1 …, T.

        Raises
        ------
        SolveError
            When the residual does not fall.
        """
        s = self.section
        ext = self._external(v_ext)
        low = None if history is None else list(history.b)
        u = np.zeros(s.unknowns) if start is None else start.u.copy()
        residual, state = self._residual(u, ext, low, waves)
        limit = tolerance * self._load_scale(ext, low)
        kept = tangent or Tangent()
        lu = None if start is None else kept.lu
        for iteration in range(MAX_ITERATIONS):
            norm = float(np.linalg.norm(residual))
            if norm <= limit:
                return self._record(u, state, iteration)
            fresh = lu is None
            if lu is None:
                lu = factor(self._linear() + self._tangent(state))
                kept.at, kept.lu = u, lu
            step = -lu.solve(residual)
            length = 1.0
            while True:
                trial = u + length * step
                trial_residual, trial_state = self._residual(trial, ext, low, waves)
                ratio = float(np.linalg.norm(trial_residual)) / norm
                if ratio < 1 or not fresh or length < 1e-3:
                    break
                length /= 2
            if not fresh and ratio > 0.5:
                lu = None  # an old tangent that no longer serves: take a Newton step from here instead
                continue
            if ratio >= 1:
                break
            u, residual, state = trial, trial_residual, trial_state
            if ratio > (0.1 if start is None else 0.5):
                lu = None
        raise SolveError(
            f"the bias field of {', '.join(p.material for p in s.shape.parts)} did not converge "
            f"(residual {norm / limit * tolerance:.1e} of the load after {iteration + 1} Newton steps); check "
            "that its material curve is smooth, or try --quality draft"
        )

    def run(self, tangent: Tangent) -> Tangent:
        """A copy of the tangent of a solve without an outer field, to begin a run of solves with."""
        if tangent.lu is None and tangent.at is not None:
            tangent.lu = factor(self._linear() + self._tangent(self._residual(tangent.at, None, None)[1]))
        return Tangent(at=tangent.at, lu=tangent.lu)

    def of(self, materials: tuple[BodyMaterial, ...]) -> BiasCell:
        """The same cell of other materials; what does not depend on them is kept."""
        kept = {k: v for k, v in self._cache.items() if k != "scale"}
        return BiasCell(section=self.section, materials=materials, _cache=kept)

    def on(self, section: Section) -> BiasCell:
        """The same cell for parts in another magnetic state on the same mesh."""
        kept = {k: v for k, v in self._cache.items() if k != "scale"}
        return BiasCell(section=section, materials=self.materials, _cache=kept)

    def __getstate__(self) -> dict[str, Any]:
        return {"section": self.section, "materials": self.materials, "_cache": {}}

    def _linear(self) -> Any:
        if "linear" not in self._cache:
            self._cache["linear"] = self.section.linear
        return self._cache["linear"]

    def _external(self, v_ext: Array | None) -> list[Array] | None:
        """B_ext = −μ0 ∇φ_ext at the quadrature points of each part."""
        if v_ext is None:
            return None
        full = np.zeros(self.section.unknowns)
        full[self.section.pole] = v_ext
        return [-MU0 * p.field(p.gradient, full) for p in self._points]

    @property
    def _points(self) -> list[PointOperators]:
        if "points" not in self._cache:
            self._cache["points"] = self.section.points
        return list(self._cache["points"])

    def _residual(self, u: Array, ext: list[Array] | None, low: list[Array] | None,
                  waves: Sequence[Array] | None = None) -> tuple[Array, list[tuple[Array, Array, Array]]]:
        """Residual, and B, H and the tangent of each part."""
        residual = self._linear() @ u
        state = []
        for i, points in enumerate(self._points):
            b = points.field(points.curl, u)
            if ext is not None:
                b = b + ext[i]
            h, tangent = in_section(self.materials[i], self.section.shape.parts[i], b,
                                      None if low is None else low[i], None if waves is None else waves[i])
            residual = residual + points.load(points.curl, h if ext is None else h - NU0 * ext[i])
            state.append((b, h, tangent))
        return residual, state

    def _tangent(self, state: list[tuple[Array, Array, Array]]) -> Any:
        return sum(p.tangent(t) for p, (_, _, t) in zip(self._points, state, strict=True))

    def _load_scale(self, ext: list[Array] | None, low: list[Array] | None) -> float:
        """Norm of the residual of B = 0, the magnets' coercive load; of a pole without magnets, what the
        field of the others puts on it."""
        if "scale" not in self._cache:
            residual, _ = self._residual(np.zeros(self.section.unknowns), None, None)
            self._cache["scale"] = float(np.linalg.norm(residual))
        if self._cache["scale"] == 0.0 and ext is not None:
            return float(np.linalg.norm(self._residual(np.zeros(self.section.unknowns), ext, low)[0]))
        return float(self._cache["scale"])

    def _record(self, u: Array, state: list[tuple[Array, Array, Array]], iterations: int) -> BiasState:
        charges = sum(p.load(p.gradient, b * NU0 - h)
                      for p, (b, h, _) in zip(self._points, state, strict=True))
        return BiasState(u=u, b=tuple(b for b, _, _ in state), charges=np.asarray(charges),
                         iterations=iterations)
