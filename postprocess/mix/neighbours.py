r"""What two pickups under the same strings do to each other, to say how little a mix leaves out.

Three things, as parts of what is counted; d is the distance of the two, and fields are looked at over the rows that
each of them has::

    mutual inductance   k = |M|/√(L₁L₂),   M = μ₀ A₁A₂/(4π d³)      A: turns times area with the poles, m²
    magnets             |B_z| of the one over the strings of the other, over the other's own
    string              |b_z| of a coil over the strings of the other, over that over its own

The dipoles' M is too large for coils that are long across the strings, by a third at 30 mm and a fifth at 50 mm
(Neumann's integral; tests/postprocess/mix/test_neighbours.py). B and b are the row's own up to 60 mm along the
strings; beyond, they fall as d⁻³.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import Protocol

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.solver.constants import MU0

REACH = 60e-3
"""How far along the strings fields are looked at, m."""


class Fields(Protocol):
    """What is asked of a solved pickup, as the string stage asks it."""

    def bias(self, points: Array) -> Array:
        """B₀ (3, n) at points (3, n), T."""
        ...

    def reciprocal(self, points: Array) -> Array:
        """b (3, n) per ampere, T/A."""
        ...


@dataclass(frozen=True, kw_only=True, eq=False)
class Neighbour:
    """A pickup as its neighbours see it.

    Attributes
    ----------
    place : float
        Along the strings, from the bridge, m.
    rows : tuple of float
        Where its rows stand, x towards the bridge from its place, m.
    field : Fields
    strings : array (2, n)
        y and z of the strings' axes over it, m.
    area : float
        Turns times area with the poles, upwards, m².
    inductance : float
        H.
    """

    place: float
    field: Fields
    strings: Array
    area: float
    inductance: float
    rows: tuple[float, ...] = (0.0,)


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """What a mix leaves out: the largest of all pairs, as parts of 1.

    Attributes
    ----------
    inductance, magnets, string : float
        See the head of the module.
    """

    inductance: float
    magnets: float
    string: float

    def largest(self) -> float:
        """Of the three."""
        return max(self.inductance, self.magnets, self.string)


def left_out(pickups: Sequence[Neighbour]) -> LeftOut:
    """The largest share of each kind among several pickups."""
    pairs = list(permutations(pickups, 2))
    own = {id(p): [np.max(np.abs(values), axis=0) for values in zip(*(_over_strings(p, x) for x in p.rows),
                                                                    strict=True)] for p in pickups}
    magnets, string, inductance = 0.0, 0.0, 0.0
    for a, b in pairs:
        d = abs(a.place - b.place)
        for x in b.rows:
            away = a.place - (b.place - x)  # from a's place towards the bridge
            looked = float(np.sign(away)) * min(abs(away), REACH)
            B, field = _over_strings(a, looked)
            far = abs(looked / away) ** 3
            magnets = max(magnets, far * float(np.max(np.abs(B / own[id(b)][0]))))
            string = max(string, far * float(np.max(np.abs(field / own[id(a)][1]))))
        inductance = max(inductance, dipole_coupling((a.area, b.area), (a.inductance, b.inductance), d))
    return LeftOut(inductance=inductance, magnets=magnets, string=string)


def _over_strings(pickup: Neighbour, x: float) -> tuple[Array, Array]:
    """B_z and b_z (n,) at the strings' axes, x along from the pickup."""
    points = np.vstack([np.full(pickup.strings.shape[1], x), pickup.strings])
    return np.asarray(pickup.field.bias(points)[2]), np.asarray(pickup.field.reciprocal(points)[2])


def dipole_coupling(areas: tuple[float, float], inductances: tuple[float, float], distance: float) -> float:
    """k = |M|/√(L₁L₂) of two flat coils side by side as dipoles.

    Parameters
    ----------
    areas : (float, float)
        Turns times area with the poles, m² (:mod:`.coil.hum`).
    inductances : (float, float)
        H.
    distance : float
        Between their middles, m.

    Examples
    --------
    >>> round(dipole_coupling((4.0, 4.0), (3.0, 3.0), 0.05), 4)
    0.0043
    """
    mutual = MU0 / (4 * np.pi) * areas[0] * areas[1] / distance**3
    return float(abs(mutual) / np.sqrt(inductances[0] * inductances[1]))
