r"""One pole shape on one mesh: its answers to potentials on the fixed rings, forwards and backwards.

Forwards, for each azimuthal order m, e potentials at the rings and E the interpolation (:mod:`.grid`)::

    v = E e      q = answer of the cell to v      g = Eᵀ q

Backwards: given ∂J/∂g, the adjoint of the bias (order 0) is one back-substitution with its tangent T at the
solution, the others are their own adjoints (C symmetric)::

    w̄ = E ∂J/∂g      T λ = −∂(Σ w̄ q)/∂u      ∂J/∂e = Eᵀ ∂(λᵀR + Σ w̄ q)/∂v

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.linalg import LinearOperator, cg

from stringflux.geometry.arrays import Array

from ..constants import MU0, NU0
from ..factor import Factor, factor
from ..materials.h_of_b import in_section, slope_with_history
from ..materials.kinds import BodyMaterial
from ..materials.signal import of_parts
from ..row.small_signal import SmallSignalCell
from ..section.bias import BiasCell, BiasState, Tangent
from ..section.operators import PointOperators
from ..section.space import Section
from .grid import Interpolation, ShapeGrid

TOLERANCE = 1e-9  # of the bias: gradients and differences of shapes must not see where Newton's method ends


_ALIKE = 1.005  # tangents this near answer alike to neighbours: 0.5 % of a pole's echo, itself some per cent at most
_CLOSE, _EXACT, _STEPS = 1.15, 1e-7, 30  # of the conjugate gradients: largest ratio of tangents, residual, steps


class ShapeCell:
    """Cells and interpolation on one mesh."""

    def __init__(self, section: Section, materials: tuple[BodyMaterial, ...], grid: ShapeGrid, orders: int) -> None:
        self.section, self.materials, self.grid = section, materials, grid
        self.nodes = section.nodes[:, section.pole]
        self.between: Interpolation = grid.at(self.nodes, orders)
        self.bias = BiasCell(section=section, materials=materials)
        self.tangent = Tangent()
        self.far: tuple[Array, ...] = ()  # bases (K, n) of what neighbours make at the rings, by order
        self.references: dict[int, BiasAdjoint] = {}  # of poles that do not change: their tangents serve all designs
        self._signal: SmallSignalCell | None = None
        self._to_far: dict[int, Array] = {}

    def start_signal(self, alone: BiasState) -> None:
        """Set the permeabilities for small signals from the bias of the pole alone."""
        self._signal = SmallSignalCell(section=self.section, mu=of_parts(self.materials, alone.b))
        self._to_far.clear()

    @property
    def signal(self) -> SmallSignalCell:
        """The small-signal cell; :meth:`start_signal` comes first."""
        if self._signal is None:
            raise ValueError("the permeabilities for small signals are not set yet")
        return self._signal

    def forget(self) -> None:
        """Start a new design: it must not begin where the last one ended."""
        self.tangent = Tangent()
        if self.references:
            self.tangent.lu = next(iter(self.references.values())).lu

    def solve(self, e: Array | None, start: BiasState | None, memory: BiasState | None,
              tolerance: float = TOLERANCE) -> BiasState:
        """Bias in the external potential e (K,) at the rings."""
        v = None if e is None else self.between.matrices[0] @ e
        if start is None:
            return self.bias.solve(v, history=memory, tolerance=tolerance)
        return self.bias.solve(v, start=start, history=memory, tolerance=tolerance, tangent=self.tangent)

    def gather(self, m: int, charges: Array) -> Array:
        """Charges of the pole's unknowns on the rings."""
        return np.asarray(self.between.matrices[m].T @ charges)

    def answer(self, m: int, v: Array) -> Array:
        """Charges at the unknowns that answer to the potential v (k,) or (k, j) there, small signal of order m."""
        return self.signal.order(m).charges(v)

    def to_far(self, m: int, e: Array) -> Array:
        """Small-signal charges on the rings that answer to potentials e (K,) of neighbours there; symmetric."""
        if not self.far:
            return np.zeros_like(e)
        if m not in self._to_far:
            self._to_far[m] = self.gather(m, self.answer(m, self.between.matrices[m] @ self.far[m]))
        return np.asarray(self._to_far[m] @ (self.far[m].T @ e))

    def whole(self, m: int, v: Array) -> tuple[Array, Array]:
        """Of that answer the reaction potential at all unknowns and the whole one (0 off the pole), (n, j) each."""
        order = self.signal.order(m)
        full = np.zeros((self.section.unknowns, v.shape[1]))
        full[self.section.pole] = v
        reduced = np.asarray(order.lu.solve(-(order.D @ full)))
        return reduced, full + reduced

    def charges_of(self, m: int, whole: Array) -> Array:
        """Charges at the pole's unknowns of whole potentials (n, j)."""
        return np.asarray(-(self.signal.order(m).D @ whole)[self.section.pole] / MU0)


@dataclass(frozen=True, kw_only=True, eq=False)
class BiasAdjoint:
    """Tangent of a solved bias state, ready for adjoints.

    Attributes
    ----------
    cell : ShapeCell
    state : BiasState
    external : array (n,)
        Its external potential at all unknowns, 0 off the pole.
    memory : BiasState or None
    like : BiasAdjoint, optional
        Another state of the same cell, whose factor serves as preconditioner where the two tangents are close.
    """

    cell: ShapeCell
    state: BiasState
    external: Array
    memory: BiasState | None
    like: BiasAdjoint | None = None

    @cached_property
    def laws(self) -> list[tuple[Array, Array]]:
        """H and the tangent at the points of every part."""
        low = [None] * len(self.state.b) if self.memory is None else list(self.memory.b)
        return [in_section(m, p, b, low_b) for m, p, b, low_b in
                zip(self.cell.materials, self.cell.section.shape.parts, self.state.b, low, strict=True)]

    @cached_property
    def matrix(self) -> csr_matrix:
        """The tangent at this state, symmetric."""
        both = zip(self.points, self.laws, strict=True)
        return csr_matrix(self.cell.bias._linear() + sum(p.tangent(t) for p, (_, t) in both))

    @cached_property
    def lu(self) -> Factor:
        """Its factor."""
        return factor(self.matrix)

    @cached_property
    def apart(self) -> float:
        """By what factor the tangent differs from that of `like`, at the worst point."""
        if self.like is None:
            return np.inf
        low, high = 1.0, 1.0
        for (_, mine), (_, other) in zip(self.laws, self.like.laws, strict=True):
            ratios = mine[[0, 2]] / other[[0, 2]]
            low, high = min(low, float(np.min(ratios))), max(high, float(np.max(ratios)))
        return high / low

    def inverse(self, right: Array) -> Array:
        """The tangent's inverse times (n,) or (n, j)."""
        if self.like is None or self.apart > _CLOSE:
            return np.asarray(self.lu.solve(right))
        if right.ndim == 2:
            return np.stack([self.inverse(column) for column in right.T], axis=1)
        x, info = cg(self.matrix, right, rtol=_EXACT, atol=0.0, maxiter=_STEPS,
                     M=LinearOperator(self.matrix.shape, matvec=self.like.lu.solve, dtype=float))
        return np.asarray(x if info == 0 else self.lu.solve(right))

    @property
    def points(self) -> list[PointOperators]:
        return self.cell.bias._points

    def solve(self, weights: Array, extra: list[Array] | None = None) -> Array:
        """λ (n,) for the weights w̄ (n,) of the charges.

        extra : arrays (2, e, q) by part: ∂J/∂B at the points of what else depends on this state.
        """
        right = self._pull(weights[:, None])[:, 0]
        for i, p in enumerate(self.points if extra is not None else []):
            right -= p.curl.T @ (extra or [])[i].reshape(2, -1).ravel()
        return self.inverse(right)

    def by_external(self, weights: Array) -> Array:
        """∂(Σ w̄ q)/∂v at the pole's unknowns (k, j) for weights (n, j), the state following."""
        adjoint = self.inverse(self._pull(weights))
        total = np.zeros(weights.shape)
        for p, t in zip(self.points, self._stiff, strict=True):
            total += p.gradient.T @ _weighted(t, p.curl @ adjoint - p.gradient @ weights)
        return -MU0 * total[self.cell.section.pole]

    def _pull(self, weights: Array) -> Array:
        """−∂(Σ w̄ q)/∂u, (n, j)."""
        return np.asarray(sum(p.curl.T @ _weighted(t, p.gradient @ weights)
                              for p, t in zip(self.points, self._stiff, strict=True)))

    @cached_property
    def _stiff(self) -> list[Array]:
        """dH/dB − ν0 of every part, (3, points), weights in it."""
        out = []
        for p, (_, t) in zip(self.points, self.laws, strict=True):
            rr, rz, zz = t.reshape(3, -1)
            out.append(np.stack([rr - NU0, rz, zz - NU0]) * p.weight)
        return out

    def answer(self, e: Array) -> Array:
        """∂J/∂ potentials at the rings for ∂J/∂g = e (K, j) there, both (K, j); symmetric."""
        cell = self.cell
        weights = np.zeros((cell.section.unknowns, e.shape[1]))
        weights[cell.section.pole] = cell.between.matrices[0] @ e
        return cell.gather(0, self.by_external(weights))

    @cached_property
    def _to_far(self) -> Array:
        return self.answer(self.cell.far[0])

    def to_far(self, e: Array) -> Array:
        """The same for weights (K,) that neighbours make, which live in a small space."""
        if self.like is not None and self.apart < _ALIKE:
            return self.like.to_far(e)
        return np.asarray(self._to_far @ (self.cell.far[0].T @ e))

    def low_slopes(self) -> list[Array]:
        """∂H_z/∂B_low at the points of every part, m/H: not zero on the recoil line that begins at B_low."""
        if self.memory is None:
            return [np.zeros_like(b[1]) for b in self.state.b]
        return [slope_with_history(m, p, b[1], low[1]) for m, p, b, low in
                zip(self.cell.materials, self.cell.section.shape.parts, self.state.b, self.memory.b, strict=True)]


def _weighted(tangent: Array, f: Array) -> Array:
    """The symmetric tangent (rr, rz, zz) times vectors (2 × points, j)."""
    r, z = f[:len(f) // 2], f[len(f) // 2:]
    rr, rz, zz = tangent[:, :, None]
    return np.concatenate([rr * r + rz * z, rz * r + zz * z])


def on_mesh(section: Section, cell: ShapeCell) -> ShapeCell:
    """The same pole on another mesh of the same topology."""
    new = ShapeCell(section, cell.materials, cell.grid, len(cell.between.matrices))
    new.far = cell.far
    return new
