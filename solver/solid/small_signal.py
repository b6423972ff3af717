r"""How the bodies of a build answer small currents in its coils, in 3-D.

    ∫ μ ∇φ·∇w = Σ_bodies ∫ (μ − μ0) H_s·∇w,     M = (μ/μ0 − 1)(H_s − ∇φ)

μ is what a signal meets at the bias (:func:`..materials.signal.permeability`); with eddy currents it is complex
(:mod:`.eddy.effective_mu`). H_s is the coil's field in air, per ampere. Between coils i and j

    L_ij = L_air,ij + ∫ M_i·b_air,j dV,         moment_i = area of the turns + ∫ M_i dV.

References
----------
Reduced potential: J. Simkin, C. W. Trowbridge, "On the use of the total scalar potential in the numerical solution of
field problems in electromagnetics", *Int. J. Numer. Methods Eng.* 14 (1979) 423 (memory). L and moments by
reciprocity: derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

from ..constants import MU0
from .gradients import NearestGradients
from .linear import TOLERANCE, SolidSolver
from .space import SolidSpace

_SOFT = 10.0  # bodies of a larger μr take the coil's field as a gradient
_CLOSER = 0.1  # which is solved so much closer than the field: its error is not divided by μr


@dataclass(frozen=True, kw_only=True, eq=False)
class SignalState:
    """The bodies' answer to one ampere in one turn of each coil.

    Attributes
    ----------
    magnetisation : tuple of arrays (coils, 3, elements, 4)
        Of each body, A/m per ampere.
    inductance : array (coils, coils)
        What the bodies add, H per turn².
    moment : array (coils, 3)
        ∫ M dV, m².
    potentials : tuple of (array, array)
        Of each coil φ on the space's unknowns and ψ of its own field in soft bodies, A per ampere: where solutions
        of other permeabilities start.
    """

    potentials: tuple[tuple[Array, Array], ...]
    magnetisation: tuple[Array, ...]
    inductance: Array
    moment: Array


def solve_signal(space: SolidSpace, permeability: Sequence[Array], sources: Sequence[Array], *,
                 odd: tuple[int, ...] = (), start: SignalState | None = None,
                 tolerance: float = TOLERANCE) -> SignalState:
    """Solve for every coil.

    Parameters
    ----------
    permeability : sequence of arrays (3, 3, e, q)
        μ/μ0 of every body.
    sources : sequence of arrays (coils, 3, e, q)
        H_s of every coil at the points of every body, A/m per ampere.
    odd : tuple of int
        Planes about which the coils' potentials are odd.
    start : SignalState, optional
        Of the same space, coils and soft bodies.
    tolerance : float
        Of the residual.
    """
    n, coils = space.unknowns, sources[0].shape[0]
    solver = SolidSolver(space, [MU0 * mu for mu in permeability], odd)
    within = WithinBodies(space, permeability)
    found: list[list[Array]] = [[] for _ in space.bodies]
    potentials = []
    for k in range(coils):
        load = sum(MU0 * e.load(excess(mu, s[k]), n)
                   for e, mu, s in zip(space.bodies, permeability, sources, strict=True))
        phi_0, psi_0 = (None, None) if start is None else start.potentials[k]
        phi = solver.solve(np.asarray(load), phi_0, tolerance)
        inside, psi = within([s[k] for s in sources], psi_0, tolerance)
        potentials.append((phi, psi))
        for i, (e, mu) in enumerate(zip(space.bodies, permeability, strict=True)):
            found[i].append(excess(mu, inside[i] - e.field(phi)))
    m = tuple(np.stack(f) for f in found)
    return SignalState(magnetisation=m, inductance=linked(space, m, sources), moment=moments(space, m),
                       potentials=tuple(potentials))


def linked(space: SolidSpace, magnetisation: Sequence[Array], sources: Sequence[Array]) -> Array:
    """∫ M_i·b_air,j dV (i, j), H."""
    added = sum(np.einsum("iceq,jceq,eq->ij", m, s, e.weight, optimize=True)
                for m, s, e in zip(magnetisation, sources, space.bodies, strict=True))
    return np.asarray(MU0 * space.copies * added)


def moments(space: SolidSpace, magnetisation: Sequence[Array]) -> Array:
    """∫ M dV (i, 3) over the meshed piece and its mirror images of even coils, A·m²."""
    whole = np.asarray(sum(np.einsum("iceq,eq->ic", m, e.weight)
                           for m, e in zip(magnetisation, space.bodies, strict=True)))
    for axis in space.mesh.symmetry.axes:
        whole[:, axis] = 0.0
    return np.asarray(space.copies * whole)


def excess(mu: Array, h: Array) -> Array:
    """(μ/μ0 − 1) H."""
    return np.asarray(np.einsum("ijeq,jeq->ieq", mu, h) - h)


class WithinBodies:
    """The coils' fields in every body, in soft ones as the gradient nearest to them.

    Parameters
    ----------
    permeability : sequence of arrays (3, 3, e, q)
        μ/μ0 of every body.
    """

    def __init__(self, space: SolidSpace, permeability: Sequence[Array]) -> None:
        self._soft = [i for i, mu in enumerate(permeability) if np.max(mu[0, 0].real, initial=0.0) > _SOFT]
        self._nearest = NearestGradients([space.bodies[i] for i in self._soft],
                                         [permeability[i] for i in self._soft])

    def __call__(self, sources: Sequence[Array], start: Array | None = None,
                 tolerance: float = TOLERANCE) -> tuple[list[Array], Array]:
        """Of one coil's field (3, e, q) in every body; and ψ, where another call of as many soft bodies may start."""
        start = None if start is None or start.size != self._nearest.unknowns else start
        found, psi = self._nearest([sources[i] for i in self._soft], start, tolerance * _CLOSER)
        out = list(sources)
        for i, g in zip(self._soft, found, strict=True):
            out[i] = g
        return out, psi
