r"""From weights on what a build hands on to the derivative with the places of its nodes.

Given J of the fields at points, with Ψ₀ and Ψ_s the potentials that the weights make at the charges (:mod:`.sums`):

    signal:  K λ = μ0 ∫ (μ − 1) ∇Ψ_s·∇w,
             L_s = ∫_bodies (μ − 1)(H_s − ∇φ)·(∇Ψ_s − ∇λ) + ∫_all ∇φ·∇λ
    bias:    T λ₀ = ∫ [(∂B/∂H/μ0 − 1) ∇Ψ₀ + m̄ ∂B/∂H ∂μ/∂B]·∇w,      m̄ = ∂L_s/∂μ
             L₀ = ∫_bodies M·∇Ψ₀ − B·∇λ₀ + ∫_air μ0 ∇φ₀·∇λ₀

and ∂J/∂x is that of L_s + L₀ at fixed potentials (:mod:`.nodal`), of the coil's field where the points of the
elements go, and q ∇Ψ of the charges' own places. Two linear solves, however many parameters there are.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

from ...constants import MU0
from ...materials.signal import slope_with_bias
from ..linear import SolidSolver
from ..small_signal import excess
from ..space import QUADRATURE, shape_functions
from .answer import AnswerState, Modes, PartState
from .nodal import fields, in_pieces, on_nodes, products, stress, stress_of
from .state import SIGNAL, BuildState, MovingBuild, drive
from .sums import pulled_back

_STEP = 2e-6  # m, of the coil's field
_ANGLES = 6  # of it: slopes within 1e-4
_KEEP = 1e-9  # of the largest: smaller eigenvalues of the weights on S are left out


@dataclass(frozen=True, kw_only=True, eq=False)
class FieldWeights:
    """∂J/∂ of the fields at points.

    Attributes
    ----------
    points : array (3, p)
        m.
    bias : array (3, p)
        With H of the magnets, per A/m.
    signal : array (3, p)
        With H of the bodies' answer to one ampere, per A/m.
    answers : tuple of (AnswerState, array (k, k))
        With S of strings' answers.
    """

    points: Array
    bias: Array
    signal: Array
    answers: tuple[tuple[AnswerState, Array], ...] = ()


def node_derivative(build: MovingBuild, state: BuildState, weights: FieldWeights) -> Array:
    """∂J/∂x of every node of the space, (3, unknowns), per m: with a velocity V (3, unknowns), dJ = Σ V·(∂J/∂x).

    Nodes on a plane of symmetry stay in it: what the derivative has across it has no meaning.
    """
    return _Sweep(build, state).run(weights)


class _Sweep:
    def __init__(self, build: MovingBuild, state: BuildState) -> None:
        self.build, self.state, self.space = build, state, state.space
        self.n = state.space.unknowns
        self.out = np.zeros((3, self.n))
        self.by_mu = [np.zeros(e.weight.shape) for e in self.space.bodies]  # m̄, where μ depends on the bias
        self.pairs: list[tuple[Array, Array]] = []  # Σ ∇a·∇b (unknowns, k) in air

    def run(self, weights: FieldWeights) -> Array:
        used, points = self.build.moving.used, weights.points
        (psi_bias, psi), slopes = pulled_back(self.space, used, (self.build.odd, ()), points,
                                              np.stack([weights.bias, weights.signal]))
        self.out += np.einsum("kn,kcn->cn", self.state.charges, slopes)
        if np.any(psi):
            self._signal(psi)
        for answer, bar in weights.answers:
            for modes, part, own in zip(answer.of.parts, answer.parts, answer.by_part(bar), strict=True):
                self._answer(modes, part, own)
        self._bias(psi_bias)
        self._air()
        return self.out

    def _answer(self, modes: Modes, part: PartState, bar: Array) -> None:
        copies, used = self.space.copies, self.build.moving.used
        self.out[:, used] += 2 * copies * modes.pushed(self.space.nodes[:, used], part.charges @ bar)
        values, vectors = np.linalg.eigh(-copies * bar)
        kept = np.abs(values) > _KEEP * np.max(np.abs(values), initial=0.0)
        share = values[kept]
        whole, reaction = part.whole @ vectors[:, kept], part.reaction @ vectors[:, kept]
        for i, (e, mu) in enumerate(zip(self.space.bodies, self.state.mu, strict=True)):
            du, dr = fields(e, whole), fields(e, reaction)
            turned = np.einsum("ijeq,jeqk->ieqk", mu, du) - du
            X = products(du, share * turned) + products(dr, share * dr)
            self.out += on_nodes(e, stress_of(X, X), self.n)
            self.by_mu[i] += np.einsum("ieqk,ieqk->eq", du, share * du)
        self.pairs.append((share * reaction, reaction))

    def _signal(self, psi: Array) -> None:
        s = self.state
        within = [e.field(psi) for e in self.space.bodies]
        lam = s.solver.solve(drive(self.space, s.mu, within), tolerance=SIGNAL)
        for i, (e, mu, h, back) in enumerate(zip(self.space.bodies, s.mu, s.sources, within, strict=True)):
            phi, adjoint = e.field(s.phi), e.field(lam)
            first, second = h - phi, back - adjoint
            turned, other = excess(mu, first), excess(mu, second)
            density = np.sum(turned * second, 0) + np.sum(phi * adjoint, 0)
            self.out += on_nodes(e, stress(density, (phi, adjoint - other), (back, turned), (adjoint, phi - turned)),
                                 self.n)
            self.by_mu[i] += np.sum(first * second, 0)
            self._coil(i, other)
        self.pairs.append((s.phi[:, None], lam[:, None]))

    def _coil(self, i: int, weight: Array) -> None:
        """∫ weight·H_s, the points of the elements moving: ∇H_s is symmetric and without trace in what carries no
        current."""
        e = self.space.bodies[i]
        slopes = np.empty((3, 3, *e.weight.shape))  # ∂_j of component i
        for j in (0, 1):
            step = _STEP * (np.arange(3) == j)[:, None, None]
            slopes[:, j] = (self.build.coil_field(e.points + step, _ANGLES)
                            - self.build.coil_field(e.points - step, _ANGLES)) / (2 * _STEP * MU0)
        slopes[0, 2], slopes[1, 2], slopes[2, 2] = slopes[2, 0], slopes[2, 1], -slopes[0, 0] - slopes[1, 1]
        force = np.einsum("ieq,ijeq,eq->jeq", weight, slopes, e.weight)
        shares = np.array([shape_functions(lam) for lam in QUADRATURE])  # (q, 10)
        place = e.dofs.T.ravel()
        for j in range(3):
            self.out[j] += np.bincount(place, (force[j] @ shares).ravel(), self.n)

    def _bias(self, psi: Array) -> None:
        s, load = self.state, np.zeros(self.n)
        slopes = []
        every = zip(self.space.bodies, self.build.substances, s.tangents, strict=True)
        for i, (e, material, tangent) in enumerate(every):
            back = e.field(psi)
            f_phi = back - np.einsum("ijeq,jeq->ieq", tangent, back) / MU0
            bend = slope_with_bias(material, s.bias.b[i])
            if bend is not None:
                f_phi = f_phi - np.einsum("ijeq,jeq->ieq", tangent, self.by_mu[i] * bend)
            load -= e.load(f_phi, self.n)
            slopes.append(f_phi)
        solver = SolidSolver(self.space, s.tangents, self.build.odd)
        lam = solver.solve(load, tolerance=SIGNAL)
        for i, (e, tangent) in enumerate(zip(self.space.bodies, s.tangents, strict=True)):
            b, h = s.bias.b[i], s.bias.h[i]
            back, adjoint, M = e.field(psi), e.field(lam), b / MU0 - h
            density = np.sum(M * back, 0) - np.sum(b * adjoint, 0)
            by_phi = slopes[i] + np.einsum("ijeq,jeq->ieq", tangent, adjoint)
            self.out += on_nodes(e, stress(density, (-h, by_phi), (back, M), (adjoint, -b)), self.n)
        self.pairs.append((MU0 * s.bias.phi[:, None], lam[:, None]))

    def _air(self) -> None:
        """∫_air Σ ∇a·∇b."""
        first, second = (np.concatenate(p, axis=1) for p in zip(*self.pairs, strict=True))
        for e in in_pieces(self.space.nodes, self.build.moving.air, first.shape[1]):
            X = products(fields(e, first), fields(e, second))
            self.out += on_nodes(e, stress_of(X, np.swapaxes(X, 0, 1)), self.n)
