r"""How far a figure of the static field is off because of the mesh, from the one solution: each element's error,
weighted by what it does.

The figure J has the slope δJ = ∫ g·T δH dV with T = ∂B/∂H, μ0 in air; in bodies with T − μ0 in place of T where g
belongs to B − μ0 H. z answers to g as a potential does to magnets: ∫ ∇w·T ∇z = −∫ ∇w·(T − μ) g, μ = 0 or μ0. Then

    J − J_h = −∫ δH·T ∇δz dV,      δH = H − H_h, δz = z − z_h

over bodies and air. For H and ∇z, which are not known, stand H_h and g + ∇z_h averaged at the nodes of each body, and
of the air. Where the mesh is too coarse for the edges of steel, both jump there from element to element. A second,
coarser mesh does not tell that: convergence at edges is of first order or less, so most of the error is in both.

The force along k by Maxwell's stress in the air, J = −c ∫ T_kj ∂_j G with T_kj = μ0 (H_k H_j − ½ H² δ_kj), c images
of the meshed piece and G harmonic, has g = −c [e_k H·∇G + H_k ∇G − H ∂_k G] there. G is of P1 and ∇G jumps; so do g
and ∇z. But z − c G H_k is harmonic, for div g = −c ∇G·∇H_k; so ∇z − c H_k ∇G does not jump, and is what is averaged.
What is quadratic in δH stands beside it, −c μ0 ∫ (δH_k δH_j − ½ δH² δ_kj) ∂_j G.

References
----------
Errors weighted by the answer to what is asked: R. Becker, R. Rannacher, "An optimal control approach to a posteriori
error estimation in finite element methods", *Acta Numerica* 10 (2001) 1 (memory). Averaged slopes: O. C. Zienkiewicz,
J. Z. Zhu, "A simple error estimator and adaptive procedure for practical engineering analysis", *Int. J. Numer.
Methods Eng.* 24 (1987) 337 (memory). For a force derived here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

from ...constants import MU0
from ..linear import SolidSolver
from ..solve import SolvedMagnets
from ..space import QUADRATURE, Elements, Ints, averaged, elements_of, shape_functions, unknowns_of

_CLOSELY = 1e-5  # of z
_AT_ONCE = 40_000  # elements of the air
_MISSED = 2.0
_FUNCTIONS = np.array([shape_functions(lam) for lam in QUADRATURE])  # (q, 10)


@dataclass(frozen=True, kw_only=True, eq=False)
class StressWeight:
    """What Maxwell's stress in the air counts for in a force.

    Attributes
    ----------
    gradient : array (3, e, 1)
        ∇G in the air's elements, 1/m.
    axis : int
        Along which the force is.
    copies : int
        How many images of the meshed piece count.
    """

    gradient: Array
    axis: int
    copies: int

    def of_field(self, h: Array) -> Array:
        """g (3, e, q) at a field, of times the force's unit that μ0 H has."""
        out = self.copies * (h * self.gradient[self.axis] - h[self.axis] * self.gradient)
        out[self.axis] -= self.copies * np.sum(h * self.gradient, axis=0)
        return np.asarray(out)

    def quadratic(self, h: Array) -> Array:
        """−c (H_k H_j − ½ H² δ_kj) ∂_j G (e, q)."""
        return np.asarray(0.5 * np.sum(self.of_field(h) * h, axis=0))

    def jumping(self, h: Array) -> Array:
        """c H_k ∇G (3, e, q)."""
        return np.asarray(self.copies * h[self.axis] * self.gradient)


class MeshDoubt:
    """Doubts about figures of one static field; what they share is computed once.

    Parameters
    ----------
    solved : SolvedMagnets

    Raises
    ------
    SolveError
        From :meth:`of`, where an answer does not settle.
    """

    def __init__(self, solved: SolvedMagnets) -> None:
        self._solved, space = solved, solved.space
        self._slopes = [law(h)[1] for law, h in zip(solved.laws, solved.bias.h, strict=True)]
        self._solver = SolidSolver(space, self._slopes, solved.odd)
        self._off = [_off(e.dofs, e.weight, h, space.unknowns)
                     for e, h in zip(space.bodies, solved.bias.h, strict=True)]
        self._dofs = unknowns_of(space.mesh)[:, space.mesh.region < 0]  # no space keeps the air's elements
        pieces = [(e.weight, -e.field(solved.bias.phi)) for _, e in self._air()]
        self._weight = np.concatenate([w for w, _ in pieces])
        self._h = np.concatenate([h for _, h in pieces], axis=1)
        self._air_off = _off(self._dofs, self._weight, self._h, space.unknowns)

    def of(self, weights: Sequence[Array], *, of_moments: bool = False,
           stress: StressWeight | None = None) -> float:
        """How far J_h may be off J: twice the sum of all elements' parts, or that of their sizes where it is larger.

        Twice, for the averages miss a third to a half of an edge's error: 0.55 to 0.75 of it was found where steel
        saturates or a coil magnetises it, 0.7 to 1.1 elsewhere (`tests/outside/test_mesh_doubt.py`,
        `tests/slow/test_team13_case.py`). Parts of either sign cancel by luck, so half of their
        sizes is the least.

        Parameters
        ----------
        weights : sequence of arrays (3, e, q)
            g in every body, of B or of B − μ0 H; in steel as nearly a gradient as the space has it, for there it and
            ∇z nearly cancel.
        of_moments : bool
            Whether they are of the second.
        stress : StressWeight, optional
            What counts in the air.
        """
        space, n = self._solved.space, self._solved.space.unknowns
        load = np.zeros(n)
        for e, t, g in zip(space.bodies, self._slopes, weights, strict=True):
            load -= e.load(np.einsum("ijeq,jeq->ieq", t, g) - (MU0 * g if of_moments else 0.0), n)
        if stress is not None:
            g = MU0 * stress.of_field(self._h)
            for some, e in self._air():
                load -= e.load(g[:, some], n)
        z = self._solver.solve(load, tolerance=_CLOSELY)
        parts = [self._in_air(z, stress)]
        for e, t, off, g in zip(space.bodies, self._slopes, self._off, weights, strict=True):
            answered = _off(e.dofs, e.weight, g + e.field(z), n)
            parts.append(-np.einsum("ieq,ijeq,jeq,eq->e", off, t, answered, e.weight))
        every = np.concatenate(parts)
        return float(max(_MISSED * abs(np.sum(every)), np.sum(np.abs(every))))

    def _in_air(self, z: Array, stress: StressWeight | None) -> Array:
        """Parts (e,) of the air's elements."""
        slope = np.concatenate([e.field(z) for _, e in self._air()], axis=1)
        if stress is not None:
            slope -= stress.jumping(self._h)
        answered = _off(self._dofs, self._weight, slope, self._solved.space.unknowns)
        each = np.sum(self._air_off * answered, axis=0)
        if stress is not None:
            each += np.sum(self._air_off * stress.jumping(self._air_off), axis=0) - stress.quadratic(self._air_off)
        return np.asarray(-MU0 * np.sum(each * self._weight, axis=1))

    def _air(self) -> Iterator[tuple[slice, Elements]]:
        """The air's elements, some at a time to spare memory."""
        for first in range(0, self._dofs.shape[1], _AT_ONCE):
            some = slice(first, first + _AT_ONCE)
            yield some, elements_of(self._solved.space.nodes, self._dofs[:, some])


def _off(dofs: Ints, weight: Array, field: Array, unknowns: int) -> Array:
    """Averaged at the nodes, less itself."""
    if not weight.size:  # a body whose mirror image alone is meshed
        return np.zeros_like(field)
    nodes = averaged(dofs, field, weight.sum(axis=1), unknowns)
    return np.asarray(np.einsum("ine,qn->ieq", nodes[:, dofs], _FUNCTIONS)) - field
