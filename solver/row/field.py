"""Bias field B₀ and reciprocal field b of the whole row, at any points above the poles.

What the string stage sees of the solver: two fields at points, and the answer of the nearest pole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import PlacedPole, Racetrack

from ..coil import air as coil_air
from ..constants import MU0
from ..seam import Sampled
from .numerics import SHIPPED
from .ring_table import PoleField
from .string_answer import StringAnswer


@dataclass(frozen=True, kw_only=True, eq=False)
class RowField:
    """Fields of a solved row.

    Attributes
    ----------
    coil : Racetrack
        Of one turn.
    turns : float
        What b is multiplied with: turns, negative for a coil wound clockwise.
    places : sequence of PlacedPole
    poles : sequence of PoleField
        Two excitations each: 0 the bias, 1 the one-turn coil at one ampere.
    answers : sequence of StringAnswer
        By pole.
    close : float
        Poles with their axis nearer than this to a string are sampled at all its nodes, m.
    angles : int
        Gauss points of the coil's ends.
    """

    coil: Racetrack
    turns: float
    places: Sequence[PlacedPole]
    poles: Sequence[PoleField]
    answers: Sequence[StringAnswer]
    close: float = SHIPPED.close
    angles: int = SHIPPED.end_angles

    def of_poles(self, points: Array, which: Sequence[int] | None = None) -> Array:
        """B of the poles (of some): (2, 3, n) for points (3, n): the bias in T, their part of b in T/A."""
        total = np.zeros((2, 3, points.shape[1]))
        for i in range(len(self.places)) if which is None else which:
            place, pole = self.places[i], self.poles[i]
            total += pole(points[0], points[1] - place.y, points[2] - place.face)
        total[1] *= self.turns
        return MU0 * total

    def of_coil(self, points: Array) -> Array:
        """B of the coil in air, T/A (3, n)."""
        return self.turns * coil_air.field(self.coil, points, self.angles)

    def bias(self, points: Array) -> Array:
        """B₀ (3, n) in T."""
        return np.asarray(self.of_poles(points)[0])

    def reciprocal(self, points: Array) -> Array:
        """b (3, n) in T per ampere in the wire."""
        return np.asarray(self.of_poles(points)[1] + self.of_coil(points))

    @property
    def mirrored(self) -> bool:
        """Whether B₀ and b are their own mirror image along the strings: always, in a row at x = 0."""
        return True

    @property
    def spread(self) -> float:
        """How far from x = 0 the middle of a coil lies, m: 0 in a row."""
        return 0.0

    def parts(self, middle: float) -> tuple[Sampled, Sampled]:
        """B₀ and b (6, n) at points (3, n) for a string at y = middle: of the poles close by, and of all else."""
        close = [i for i, p in enumerate(self.places) if abs(p.y - middle) < self.close] or [self.nearest(middle)]
        others = [i for i in range(len(self.places)) if i not in close]

        def away(points: Array) -> Array:
            total = self.of_poles(points, others)
            total[1] += self.of_coil(points)
            return total.reshape(6, -1)

        return (lambda points: self.of_poles(points, close).reshape(6, -1)), away

    def nearest(self, y: float) -> int:
        """Index of the pole whose axis is nearest to y."""
        return int(np.argmin([abs(p.y - y) for p in self.places]))
