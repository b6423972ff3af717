r"""Small-signal cell of a section of bars: its answer to a small external field, by the flux form.

With the reluctivity tensor ν of the parts (:func:`..materials.signal.reluctivity`) and a known external B_ext that
solves the equations of air::

    ∫ ν curl u·curl w + far = −∫_parts (ν − ν0) B_ext·curl w        B = curl u + B_ext
    M = (ν0 − ν) B        q = ∫ M·∇w

In steel B_ext is a small part of B, so nothing cancels there. What a coil's own field drives is linked with
any coil by reciprocity, ∫ M·b_ext per metre; that is symmetric (tests hold it to 1e-10).

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from stringflux.geometry.arrays import Array

from ..constants import NU0
from ..factor import Elimination
from ..section.operators import PointOperators
from ..section.space import Section


@dataclass(frozen=True, kw_only=True, eq=False)
class PlaneAnswer:
    """What an external field does in the parts.

    Attributes
    ----------
    u : array (unknowns,)
        Of the section's own field, T·m or T.
    magnetisation : tuple of arrays (2, elements, points)
        M_x, M_z in A/m at the quadrature points of each part.
    charges : array (unknowns,)
        ∫ M·∇w dx dz, A.
    """

    u: Array
    magnetisation: tuple[Array, ...]
    charges: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class PlaneSignalCell:
    """A section with its differential permeabilities.

    Attributes
    ----------
    section : Section
    reluctivity : tuple of arrays (3, elements, points)
        ν_xx, ν_xz, ν_zz in m/H of each part.
    """

    section: Section
    reluctivity: tuple[Array, ...]

    @property
    def points(self) -> list[PointOperators]:
        return self.section.points

    @cached_property
    def places(self) -> list[Array]:
        """x, z of the quadrature points of each part, (2, elements, points)."""
        return [np.asarray(b.global_coordinates()) for b in self.section.parts]

    @cached_property
    def lu(self) -> Elimination:
        tangents = (p.tangent(nu) for p, nu in zip(self.points, self.reluctivity, strict=True))
        return Elimination(self.section.linear + sum(tangents))

    def answer(self, external: Callable[[Array], Array]) -> PlaneAnswer:
        """Answer to `external`: B (2, ...) in T at points (2, ...)."""
        ext = [external(x) for x in self.places]
        load = sum(p.load(p.curl, _times(nu, b) - NU0 * b)
                   for p, nu, b in zip(self.points, self.reluctivity, ext, strict=True))
        u = -self.lu.solve(np.asarray(load))
        M = []
        for p, nu, b in zip(self.points, self.reluctivity, ext, strict=True):
            total = p.field(p.curl, u) + b
            M.append(NU0 * total - _times(nu, total))
        charges = sum(p.load(p.gradient, m) for p, m in zip(self.points, M, strict=True))
        return PlaneAnswer(u=u, magnetisation=tuple(M), charges=np.asarray(charges))

    def linked(self, magnetisation: Sequence[Array], external: Callable[[Array], Array]) -> float:
        """∫ M·b_ext over the parts in the mesh per metre, T·A (of half a section: half of it)."""
        return sum(float(np.sum(p.weight * np.sum(m * external(x), axis=0).ravel()))
                   for p, m, x in zip(self.points, magnetisation, self.places, strict=True))


def _times(nu: Array, b: Array) -> Array:
    return np.stack([nu[0] * b[0] + nu[1] * b[1], nu[1] * b[0] + nu[2] * b[1]])
