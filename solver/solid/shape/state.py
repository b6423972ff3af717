r"""A build on one mesh that moves: its bias and its answer to one ampere, solved so far that a gradient sees no end
of an iteration.

The coils are taken as they are wound and connected, as one source H_s. From the equation of :mod:`..small_signal`
(μ stands for μ/μ0) the charges are those of ::

    M = (μ − 1)(H_s − ∇φ),      ∫ M·∇w over the bodies = ∫ ∇φ·∇w over all space

so that nothing cancels in them and H_s needs no gradient in its place.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.row import Racetrack

from ...coil import air as coil_air
from ...constants import MU0
from ...materials.kinds import BodyMaterial, Materials, body_material
from ...materials.signal import permeability
from ..bias import Law, SolidState, bias_charges, charges, solve_static
from ..charged_before import laws_of
from ..linear import SolidSolver
from ..small_signal import excess
from ..solve import SolvedSolid
from ..space import SolidSpace
from .moved import MovingSpace
from .sums import field_of

BIAS, SIGNAL = 1e-8, 1e-9
"""Residuals: differences of shapes must not see where iterations stop."""


@dataclass(frozen=True, kw_only=True, eq=False)
class BuildState:
    """A build with its nodes somewhere.

    Attributes
    ----------
    space : SolidSpace
    bias : SolidState
    tangents : tuple of arrays (3, 3, e, q)
        ∂B/∂H of every body there, H/m.
    mu : tuple of arrays (3, 3, e, q)
        μ/μ0 of a signal.
    sources : tuple of arrays (3, e, q)
        H of the coils in air, per ampere at the terminals, A/m.
    phi : array (unknowns,)
        Of the signal, A per ampere.
    solver : SolidSolver
        Of the signal.
    charges : array (2, unknowns)
        Of the bias and of the signal, A·m.
    """

    space: SolidSpace
    bias: SolidState
    tangents: tuple[Array, ...]
    mu: tuple[Array, ...]
    sources: tuple[Array, ...]
    phi: Array
    solver: SolidSolver
    charges: Array

    @property
    def nodes(self) -> Array:
        """Places of the nodes (3, unknowns), m."""
        return self.space.nodes


class MovingBuild:
    """A solved build whose nodes can be moved.

    Parameters
    ----------
    solved : SolvedSolid
        At the start; with its coils as they are connected (`solved.field.weights`).
    materials : mapping
        Material object of every name.

    Attributes
    ----------
    start : BuildState
        Where every other solution begins.

    Raises
    ------
    CaseError
        For a build whose magnets were charged before it was put together.
    """

    def __init__(self, solved: SolvedSolid, materials: Materials) -> None:
        if solved.history != "after":
            raise CaseError("history: received 'before'; the slopes of a build's shape are known of magnets that are "
                            "charged in it; write history = \"after\"")
        self.bodies: tuple[SolidBody, ...] = solved.bodies
        self.substances: list[BodyMaterial] = [body_material(materials, b.material) for b in solved.bodies]
        self.coils: tuple[Racetrack, ...] = solved.coils
        self.weights = solved.field.weights
        self.odd, self.history = solved.odd, solved.history
        self.moving = MovingSpace(solved.space)
        self.start = self._solved(solved.space.nodes, solved.bias, None)

    def at(self, nodes: Array) -> BuildState:
        """The build with its nodes at (3, unknowns), m, in the order of `SolidSpace.nodes`.

        Raises
        ------
        SolveError
            When a tetrahedron is turned inside out, or a field does not settle.
        """
        return self._solved(np.asarray(nodes, dtype=float), self.start.bias, self.start.phi)

    def _solved(self, nodes: Array, begin: SolidState, phi: Array | None) -> BuildState:
        space = self.moving.at(nodes)
        laws: list[Law] = laws_of(space, self.bodies, self.substances, self.history, self.odd)
        bias = solve_static(space, laws, odd=self.odd, start=begin, tolerance=BIAS)
        tangents = tuple(law(h)[1] for law, h in zip(laws, bias.h, strict=True))
        mu = tuple(permeability(m, b.axis, state)
                   for m, b, state in zip(self.substances, self.bodies, bias.b, strict=True))
        sources = tuple(self.coil_field(e.points) / MU0 for e in space.bodies)
        solver = SolidSolver(space, [MU0 * m for m in mu])
        phi = solver.solve(drive(space, mu, sources), phi, SIGNAL)
        m = [excess(t, s - e.field(phi)) for e, t, s in zip(space.bodies, mu, sources, strict=True)]
        return BuildState(space=space, bias=bias, tangents=tangents, mu=mu, sources=sources, phi=phi, solver=solver,
                          charges=np.stack([bias_charges(space, bias), charges(space, m)]))

    def coil_field(self, points: Array, angles: int = coil_air.ANGLES) -> Array:
        """B of the coils in air, T per ampere at the terminals, (3, …)."""
        total = np.zeros(points.shape)
        for coil, w in zip(self.coils, self.weights, strict=True):
            if w:
                total += w * coil_air.field(coil, points, angles)
        return total

    def fields(self, state: BuildState, points: Array) -> Array:
        """H of the magnets in A/m and that of the bodies' answer to one ampere, A/m per ampere, (2, 3, p)."""
        return field_of(state.space, self.moving.used, state.charges, (self.odd, ()), points)


def drive(space: SolidSpace, mu: Sequence[Array], sources: Sequence[Array]) -> Array:
    """μ0 ∫ (μ − 1) H_s·∇w for fields (3, e, q) in every body."""
    return np.asarray(sum(MU0 * e.load(excess(m, s), space.unknowns)
                          for e, m, s in zip(space.bodies, mu, sources, strict=True)))
