r"""What the bodies of a build do to a string's own field, while their nodes move.

The construction is that of :mod:`..string_answer` with modes of another kind: a few charges near the string are
chosen, at the start, whose potentials U at the bodies' nodes make up those of all charges and dipoles of the string,
v = U W. W is kept; U goes with the nodes. With K the small-signal form, K₀ that of air and D = K − K₀,

    φ = −K⁻¹ D U,    u = U + φ,    q = −D u/μ0,    S = Uᵀ q,    the string sees  Wᵀ S W

S is stationary, so that no more is solved for its derivative at weights S̄:

    δ tr(S̄ S) = −1/μ0 Σ S̄_kl (u_kᵀ δD u_l + φ_kᵀ δK₀ φ_l) + 2 Σ S̄_kl q_k·δU_l .

Where the mesh stops at planes of symmetry, parts even and odd about each have modes of their own.

References
----------
Derived here. Columns by pivots: P. Businger, G. H. Golub, "Linear least squares solutions by Householder
transformations", *Numer. Math.* 7 (1965) 269 (memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.linalg import block_diag, qr, solve_triangular
from scipy.sparse import csr_matrix

from stringflux.geometry.arrays import Array

from ...constants import MU0
from ..linear import SolidSolver
from ..space import Ints, SolidSpace, total
from .state import BuildState

KEEP = 1e-4
"""A charge more is chosen while it leaves more than this of the largest potential."""
_SOLVED = 1e-7  # residual of each mode's solve
_Ways = tuple[tuple[tuple[float, float, float], float], ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Modes:
    """Of one part.

    Attributes
    ----------
    odd : tuple of int
        Planes about which it is odd.
    ways : tuple of (factors, share)
        The images that a charge has in it.
    sources : array (3, k)
        Places of the chosen charges, m.
    charges, across, up : arrays (k, …)
        W of the string's charges and of its dipoles along y and z.
    """

    odd: tuple[int, ...]
    ways: _Ways
    sources: Array
    charges: Array
    across: Array
    up: Array

    def potential(self, nodes: Array) -> Array:
        """U (n, k) at nodes (3, n)."""
        return _potential(nodes, self.sources, self.ways)

    def pushed(self, nodes: Array, weights: Array) -> Array:
        """Σ_k weights_nk ∂U_nk/∂x_n (3, n)."""
        out = np.zeros_like(nodes)
        for flip, share in self.ways:
            for i, source in enumerate(self.sources.T):
                r = nodes - (np.array(flip) * source)[:, None]
                out -= share * weights[:, i] * r / np.sum(r * r, 0) ** 1.5
        return out / (4 * np.pi)


class MovingAnswer:
    """The modes of one string.

    Parameters
    ----------
    space : SolidSpace
        At the start.
    used : int array
        The bodies' unknowns.
    charges, dipoles : arrays (3, …)
        Places of the string's charges and dipoles, m.
    candidates : array (3, c)
        Places from which charges are chosen, outside the bodies.
    mirrored : bool
        Whether every charge also sits at −x.
    level : bool
        Whether the string lies in the plane y = 0 of symmetry and nothing pulls it across.
    """

    def __init__(self, space: SolidSpace, used: Ints, charges: Array, dipoles: Array, candidates: Array, *,
                 mirrored: bool, level: bool) -> None:
        self.used, self.mirrored = used, mirrored
        nodes = space.nodes[:, used]
        sides = {0: (1.0,) if mirrored else (1.0, -1.0), 1: (1.0,) if level else (1.0, -1.0)}
        axes = space.mesh.symmetry.axes
        self.parts = tuple(_modes(nodes, _ways(axes, signs), charges, dipoles, candidates,
                                  tuple(axis for axis, sign in zip(axes, signs, strict=True) if sign < 0))
                           for signs in product(*(sides[axis] for axis in axes)))

    @property
    def factors(self) -> tuple[Array, Array, Array]:
        """W of all parts: of the charges (s, k), of the dipoles along y and along z (d, k)."""
        rows = [np.concatenate([getattr(p, name) for p in self.parts]).T for name in ("charges", "across", "up")]
        return rows[0], rows[1], rows[2]

    def at(self, state: BuildState) -> AnswerState:
        """S of the build with its nodes where they are."""
        space, n = state.space, state.space.unknowns
        one = np.eye(3)[:, :, None, None]
        D = csr_matrix(total(*(MU0 * e.matrix(mu - one, n) for e, mu in zip(space.bodies, state.mu, strict=True))))
        found = []
        for part in self.parts:
            U = np.zeros((n, part.sources.shape[1]))
            U[self.used] = part.potential(space.nodes[:, self.used])
            solver = SolidSolver(space, [MU0 * m for m in state.mu], part.odd) if part.odd else state.solver
            phi = solver.solve_several(-(D @ U), _SOLVED)
            q = -(D @ (U + phi)) / MU0
            S = space.copies * (U.T @ q)
            found.append(PartState(reaction=phi, whole=U + phi, charges=q[self.used], matrix=(S + S.T) / 2))
        times = 2.0 if self.mirrored else 1.0
        return AnswerState(of=self, parts=tuple(found), matrix=times * block_diag(*(p.matrix for p in found)))


@dataclass(frozen=True, kw_only=True, eq=False)
class PartState:
    """φ and u (unknowns, k), q (used, k) and S (k, k) of one part."""

    reaction: Array
    whole: Array
    charges: Array
    matrix: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class AnswerState:
    """What the bodies answer with their nodes somewhere; `matrix` (k, k) goes with :attr:`MovingAnswer.factors`."""

    of: MovingAnswer
    parts: tuple[PartState, ...]
    matrix: Array

    def by_part(self, bar: Array) -> list[Array]:
        """∂J/∂S of every part from ∂J/∂ of the matrix (k, k), symmetric."""
        out, first = [], 0
        for p in self.parts:
            mine = slice(first, first + len(p.matrix))
            out.append((2.0 if self.of.mirrored else 1.0) * (bar[mine, mine] + bar[mine, mine].T) / 2)
            first += len(p.matrix)
        return out


def _ways(axes: Sequence[int], signs: Sequence[float]) -> _Ways:
    """Every image of a charge and its share, for signs about the axes."""
    out: list[tuple[tuple[float, float, float], float]] = [((1.0, 1.0, 1.0), 1.0)]
    for axis, sign in zip(axes, signs, strict=True):
        out = [(flip, share / 2) for flip, share in out] + [
            (tuple(-f if i == axis else f for i, f in enumerate(flip)), sign * share / 2)  # type: ignore[misc]
            for flip, share in out]
    return tuple(out)


def _potential(nodes: Array, sources: Array, ways: _Ways) -> Array:
    """Σ share/(4πR) (n, s) of charges at sources (3, s)."""
    out = np.zeros((nodes.shape[1], sources.shape[1]))
    for flip, share in ways:
        out += share / np.sqrt(_squares(nodes, np.array(flip)[:, None] * sources))
    return out / (4 * np.pi)


def _dipole(nodes: Array, places: Array, ways: _Ways, axis: int) -> Array:
    """∂/∂p_axis of that (n, d)."""
    out = np.zeros((nodes.shape[1], places.shape[1]))
    for flip, share in ways:
        p = np.array(flip)[:, None] * places
        out += share * flip[axis] * (nodes[axis][:, None] - p[axis]) / _squares(nodes, p) ** 1.5
    return out / (4 * np.pi)


def _squares(nodes: Array, sources: Array) -> Array:
    """R² (n, s)."""
    middle = nodes.mean(axis=1, keepdims=True)
    a, b = nodes - middle, sources - middle
    return np.asarray(np.stack([*(-2 * a), np.ones(a.shape[1]), np.sum(a * a, axis=0)], axis=1) @ np.stack(
        [*b, np.sum(b * b, axis=0), np.ones(b.shape[1])]))


def _modes(nodes: Array, ways: _Ways, charges: Array, dipoles: Array, candidates: Array,
           odd: tuple[int, ...]) -> Modes:
    V = _potential(nodes, candidates, ways)
    R, order = qr(np.linalg.qr(V, mode="r"), mode="r", pivoting=True)
    left = np.abs(np.diag(R))
    chosen = order[:int(np.sum(left > KEEP * left[0]))]
    Q, R = np.linalg.qr(V[:, chosen])

    def fitted(v: Array) -> Array:
        return np.asarray(solve_triangular(R, Q.T @ v))

    return Modes(odd=odd, ways=ways, sources=candidates[:, chosen], charges=fitted(_potential(nodes, charges, ways)),
                 across=fitted(_dipole(nodes, dipoles, ways, 1)), up=fitted(_dipole(nodes, dipoles, ways, 2)))
