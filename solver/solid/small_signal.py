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
from .bias import as_gradient
from .linear import SolidSolver
from .space import SolidSpace

_SOFT = 10.0  # bodies of a larger μr take the coil's field as a gradient


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
    """

    magnetisation: tuple[Array, ...]
    inductance: Array
    moment: Array


def solve_signal(space: SolidSpace, permeability: Sequence[Array], sources: Sequence[Array], *,
                 odd: tuple[int, ...] = ()) -> SignalState:
    """Solve for every coil.

    Parameters
    ----------
    permeability : sequence of arrays (3, 3, e, q)
        μ/μ0 of every body.
    sources : sequence of arrays (coils, 3, e, q)
        H_s of every coil at the points of every body, A/m per ampere.
    odd : tuple of int
        Planes about which the coils' potentials are odd.
    """
    n, coils = space.unknowns, sources[0].shape[0]
    solver = SolidSolver(space, [MU0 * mu for mu in permeability], odd)
    found: list[list[Array]] = [[] for _ in space.bodies]
    for k in range(coils):
        load = sum(MU0 * e.load(excess(mu, s[k]), n)
                   for e, mu, s in zip(space.bodies, permeability, sources, strict=True))
        phi = solver.solve(np.asarray(load))
        within = within_bodies(space, permeability, [s[k] for s in sources])
        for i, (e, mu) in enumerate(zip(space.bodies, permeability, strict=True)):
            found[i].append(excess(mu, within[i] - e.field(phi)))
    m = tuple(np.stack(f) for f in found)
    return SignalState(magnetisation=m, inductance=linked(space, m, sources), moment=moments(space, m))


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


def within_bodies(space: SolidSpace, permeability: Sequence[Array], sources: list[Array]) -> list[Array]:
    """The coil's field in every body, in soft ones as the gradient nearest to it."""
    which = [i for i, mu in enumerate(permeability) if np.max(mu[0, 0].real, initial=0.0) > _SOFT]
    found = as_gradient([space.bodies[i] for i in which], [permeability[i] for i in which],
                        [sources[i] for i in which])
    out = list(sources)
    for i, g in zip(which, found, strict=True):
        out[i] = g
    return out
