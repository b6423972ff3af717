"""The derivative of everything that happens on one pole's mesh, summed over the nodes' places.

Terms come in as pairs (potential, weight) of the small-signal answers and as bias states with the weights of their
charges; :mod:`.derivative` does the elements, :mod:`.grid` the interpolation between rings and unknowns.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

from ..constants import MU0
from ..materials.signal import slope_with_bias
from ..section.bias import BiasState
from .cell import BiasAdjoint, ShapeCell
from .derivative import air_term, element_points, local_products, part_term, potential_term
from .grid import Interpolation


@dataclass(frozen=True, kw_only=True, eq=False)
class DriveOnPole:
    """The coil at one pole of the changing shape: the interpolation and the values (orders, K) on its grid."""

    between: Interpolation
    values: Array


class PoleSum:
    """Sums the derivative over everything that happens on one mesh."""

    def __init__(self, cell: ShapeCell) -> None:
        self.cell = cell
        s = cell.section
        self.vertices = s.mesh.points.shape[1]
        self.parts = [element_points(s, b) for b in s.parts]
        self.air = element_points(s, s.air)
        self.nodes = np.zeros((2, self.vertices))
        self.unknowns = np.zeros((2, s.unknowns))
        self.pairs: dict[int, list[tuple[Array, Array, DriveOnPole | None, float]]] = {}
        self.by_mu = [np.zeros_like(p.r) for p in self.parts]
        self.by_low = [np.zeros_like(p.r) for p in self.parts]

    def pair(self, m: int, e: Array, g: Array, drive: DriveOnPole | None = None, weight: float = 0.0) -> None:
        """A term gᵀ Eᵀ C E e of small-signal order m; with `drive` it adds to e, and `weight` times it to g."""
        self.pairs.setdefault(m, []).append((e, g, drive, weight))

    def signal(self) -> None:
        """Add all pairs."""
        for m, pairs in self.pairs.items():
            between = self.cell.between
            e, g = (np.stack([p[k] for p in pairs], axis=1) for k in (0, 1))  # type: ignore[misc]
            v, w = between.matrices[m] @ e, between.matrices[m] @ g
            for j, (_, _, drive, weight) in enumerate(pairs):
                if drive is not None:
                    d = drive.between.values(m, drive.values[m][:, None])[:, 0]
                    v[:, j] += d
                    w[:, j] += weight * d
            n = v.shape[1]
            reduced, whole = self.cell.whole(m, np.concatenate([v, w], axis=1))
            first, second = whole[:, :n], whole[:, n:]
            self._potential(m, first, second, reduced[:, :n], reduced[:, n:])
            by_v, by_w = self.cell.charges_of(m, second), self.cell.charges_of(m, first)
            slope = np.einsum("nj,cnj->cn", by_v, between.slopes(m, e)) + np.einsum(
                "nj,cnj->cn", by_w, between.slopes(m, g))
            for j, (_, _, drive, weight) in enumerate(pairs):
                if drive is not None:
                    steep = drive.between.slopes(m, drive.values[m][:, None])[:, :, 0]
                    slope += (by_v[:, j] + weight * by_w[:, j]) * steep
            self.unknowns[:, self.cell.section.pole] += slope

    def _potential(self, m: int, first: Array, second: Array, reduced: Array, adjoint: Array) -> None:
        one = np.full((1, 1), MU0)
        cell = self.cell.signal
        local = local_products(self.air, reduced, adjoint)
        self.nodes -= potential_term(self.air, m, one, one, local, self.vertices)[0] / MU0
        for i, points in enumerate(self.parts):
            local = local_products(points, reduced, adjoint)
            self.nodes -= potential_term(points, m, one, one, local, self.vertices)[0] / MU0
            mu_t, mu_z = (MU0 * (np.broadcast_to(np.asarray(mu, float), points.r.shape) - 1)
                          for mu in (cell.mu[i].across, cell.mu[i].along))
            local = local_products(points, first, second)
            nodes, by_mu = potential_term(points, m, mu_t, mu_z, local, self.vertices)
            self.nodes -= nodes / MU0
            self.by_mu[i] -= by_mu

    def bias(self, adjoint: BiasAdjoint, e: Array, g: Array, own: bool) -> None:
        """Add a term Σ g·(Eᵀ q) of the bias in the external potential e at the rings.

        With `own` the state is also the one that sets the permeabilities for signals.
        """
        section = self.cell.section
        weights = np.zeros(section.unknowns)
        weights[section.pole] = self.cell.between.matrices[0] @ g
        by_external = self._flux(adjoint, weights, self._extra(adjoint.state) if own else None)
        slopes = self.cell.between.slopes(0, np.stack([e, g], axis=1))
        charges = adjoint.state.charges[section.pole]
        self.unknowns[:, section.pole] += by_external[section.pole] * slopes[..., 0] + charges * slopes[..., 1]

    def alone(self, state: BiasState, like: BiasAdjoint) -> None:
        """Add what depends on the bias of the pole by itself; `like`: one of its states in the row."""
        extra = self._extra(state)
        if any(np.any(x) for x in extra):
            nothing = np.zeros(self.cell.section.unknowns)
            adjoint = BiasAdjoint(cell=self.cell, state=state, external=nothing, memory=None, like=like)
            self._flux(adjoint, nothing, extra)

    def total(self) -> Array:
        """The sum, (2, vertices): unknowns in the middles of edges hand on to both ends."""
        mesh = self.cell.section.basis.mesh
        out = self.nodes + self.unknowns[:, :self.vertices]
        middles = self.unknowns[:, self.vertices:] / 2
        for c in (0, 1):
            for end in mesh.facets:
                out[c] += np.bincount(end, middles[c], minlength=self.vertices)
        return out

    def _extra(self, state: BiasState) -> list[Array]:
        """∂J/∂B at the points by permeability and lowest B, the weights in it."""
        out = []
        for material, b, by_mu, by_low in zip(self.cell.materials, state.b, self.by_mu, self.by_low, strict=True):
            slope = slope_with_bias(material, b)
            extra = np.zeros_like(b) if slope is None else by_mu * slope
            extra[1] += by_low
            out.append(extra)
        return out

    def _flux(self, adjoint: BiasAdjoint, weights: Array, extra: list[Array] | None) -> Array:
        """Add λᵀR + Σ w̄ q of a bias state; returns its derivative with the external potential (unknowns,)."""
        s = self.cell.section
        solved = adjoint.solve(weights, extra)
        self.nodes += air_term(self.air, adjoint.state.u, solved, self.vertices)
        by_external = np.zeros(s.unknowns)
        for i, (points, (h, tangent), low) in enumerate(zip(self.parts, adjoint.laws, adjoint.low_slopes(),
                                                            strict=True)):
            term = part_term(points, adjoint.state.u, adjoint.external, solved, weights, h, tangent, low,
                             self.vertices, None if extra is None else extra[i])
            self.nodes += term.nodes
            self.by_low[i] += term.by_low
            by_external += term.by_external
        return by_external
