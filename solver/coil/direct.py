r"""Direct currents in coils: their field and vector potential in air, of all of them together.

    B = Σ_k I_k N_k s_k b_k,     A = Σ_k I_k N_k s_k a_k

b_k and a_k are of one ampere in one turn (:mod:`.air`), N turns, s = 1 for a coil wound counter-clockwise from its
start and −1 for one wound clockwise, I what runs from its start to its finish, A.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import Racetrack

from . import air

_AT_ONCE = 50_000  # points: a piece's Gauss points take some kB each


@dataclass(frozen=True, kw_only=True)
class DirectCurrents:
    """Coils that carry a direct current.

    Attributes
    ----------
    coils : tuple of Racetrack
        Of one turn, counter-clockwise.
    ampere_turns : tuple of float
        Of each, counter-clockwise, A.
    """

    coils: tuple[Racetrack, ...] = ()
    ampere_turns: tuple[float, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.coils)

    def field(self, points: Array) -> Array:
        """B in T at points (3, …), m."""
        return self._summed(points, air.field)

    def potential(self, points: Array) -> Array:
        """A in T·m at points (3, …), m."""
        return self._summed(points, air.vector_potential)

    def _summed(self, points: Array, of: Callable[[Racetrack, Array], Array]) -> Array:
        flat = np.reshape(points, (3, -1))
        out = np.zeros(flat.shape)
        for first in range(0, flat.shape[1] if self else 0, _AT_ONCE):
            some = slice(first, first + _AT_ONCE)
            for coil, size in zip(self.coils, self.ampere_turns, strict=True):
                out[:, some] += size * of(coil, flat[:, some])
        return np.reshape(out, np.shape(points))


NO_CURRENTS = DirectCurrents()


def direct_currents(coils: Sequence[Racetrack], currents: Sequence[float]) -> DirectCurrents:
    """Of coils as they are wound; those without a current are left out.

    Parameters
    ----------
    coils : sequence of Racetrack
        With turns and sense.
    currents : sequence of float
        From start to finish of each, A.

    Examples
    --------
    >>> from stringflux.geometry.shapes.row import Racetrack
    >>> ring = Racetrack(inner_radius=0.01, straight=0, build=1e-3, bottom=-5e-4, top=5e-4, turns=10, sense=-1)
    >>> direct_currents([ring], [2.0]).ampere_turns
    (-20.0,)
    """
    found = [(replace(c, turns=1.0, sense=1), c.turns * c.sense * i)
             for c, i in zip(coils, currents, strict=True) if i]
    return DirectCurrents(coils=tuple(c for c, _ in found), ampere_turns=tuple(float(s) for _, s in found))
