r"""How far a force is off because of the mesh, and which of the two ways of :mod:`..force` is the nearer one.

By charges, δF_k = ∫ δ(B − μ0 H)·g dV over all bodies, g = ∇H_k of the others in the bodies pulled, −∇H_k of these in
the others; by stress see :mod:`.weighted`. To the first that comes for charges that are points: a lattice of them
with a pitch p has a field that a smooth sheet has not, exp(−2πd/p) of it at a distance d.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

from ..force import ForceFound, Forces
from ..solve import SolvedMagnets
from .flux import FAR
from .weighted import MeshDoubt, StressWeight

_LATTICE = 6.0  # of the force: 2 to 5 was found of magnets and steel with gaps of 0.3 to 1.2 pitches
_SPARE = 1.2  # what elements tell was 1.02 to 1.5 times the true error of magnets on steel and of coils on it
_SMOOTH = 2.0  # pitches: from there on that is nothing (2e-5)


@dataclass(frozen=True, kw_only=True, eq=False)
class ForceDoubt:
    """The way that holds better, and how far it may be off.

    Attributes
    ----------
    by : {"charges", "stress"}
    parts : array (3,)
        Along x, y and z, N.
    """

    by: str
    parts: Array

    @property
    def error(self) -> float:
        """N, all parts together."""
        return float(np.linalg.norm(self.parts))


def doubt_force(solved: SolvedMagnets, forces: Forces, members: Sequence[int], found: ForceFound) -> ForceDoubt:
    """How far a force on bodies, by their numbers, may be off.

    Raises
    ------
    SolveError
        Where an answer does not settle.
    """
    mesh = MeshDoubt(solved)
    beside = FAR + _LATTICE * np.exp(-2 * np.pi * found.pitches)
    weights, parts = forces.counted(members), np.zeros((2, 3))
    axes = forces.axes(members)
    for k in axes:
        parts[0, k] = (_SPARE * mesh.of([w[k] for w in weights], of_moments=True)
                       + beside * abs(found.charges[k]))
    if found.pitches > _SMOOTH:
        return ForceDoubt(by="charges", parts=parts[0])
    weights = forces.counted(members, currents_alone=True)
    for k in axes:
        stress = StressWeight(gradient=forces.rise(members, k), axis=k, copies=solved.space.copies)
        parts[1, k] = (_SPARE * mesh.of([w[k] for w in weights], of_moments=True, stress=stress)
                       + FAR * abs(found.stress[k]))
    one, other = np.linalg.norm(parts, axis=1)
    return ForceDoubt(by="charges", parts=parts[0]) if one < other else ForceDoubt(by="stress", parts=parts[1])
