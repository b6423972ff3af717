r"""One string over a pole of changing shape: λ at five heights as a function of ring charges, and backwards.

Everything that does not change with the pole is computed once: the rings' fields along the string (averaged as in
:mod:`.string.model`), the coil's own field, the string's own kernel, and the modes of the pole's answer at the
string's charges and dipoles (:mod:`.passes`).

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import PlacedPole, Racetrack, StringShape
from stringflux.solver.coil import air as coil_air
from stringflux.solver.constants import MU0
from stringflux.solver.row.rings import Rings
from stringflux.solver.row.string_answer import StringAnswer

from ..string.grid import StringGrid
from ..string.magnetisation import Layer
from .passes import AlongString, PassesFound, StringPasses
from .places import REST, StringPlaces
from .ring_fields import ORDERS, unit_fields


@dataclass(frozen=True, kw_only=True, eq=False)
class StringWeights:
    """∂J/∂ of what a string is computed from.

    Attributes
    ----------
    bias, signal : lists of arrays (orders, K), by pole
        With the ring charges (signal: per ampere in one turn).
    response : array (k, k)
        With S of :meth:`StringAnswer.matrix`.
    """

    bias: list[Array]
    signal: list[Array]
    response: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class Linkages:
    """λ at the five heights, Wb, B₀ z on the axis over the pole at rest, T, and what :meth:`back` needs."""

    linkage: Array
    bias: float
    found: PassesFound


class ShapeString:
    """A string's constants.

    Parameters
    ----------
    shape, layers, grid, radius
        The string as :func:`.string.model.string_model` makes it.
    step : float
        Between the heights, m.
    places, rings : by pole
    coil : Racetrack
        With its turns and sense.
    answer : StringAnswer
        Of the pole below; only its modes count.
    pole : int
        Which one that is.
    """

    def __init__(self, shape: StringShape, layers: tuple[Layer, ...], grid: StringGrid, radius: float, step: float,
                 places: Sequence[PlacedPole], rings: Sequence[Rings], coil: Racetrack, answer: StringAnswer,
                 pole: int) -> None:
        self.shape, self.grid, self.pole = shape, grid, pole
        self.turns = coil.turns * coil.sense
        self._places = StringPlaces(shape, grid, radius, step)
        points = self._places.points
        self._along: list[Array] = []
        self._across: list[Array] = []
        self._over: list[Array] = []
        for place, ring in zip(places, rings, strict=True):
            fields = unit_fields(points, place, ring)
            taken = self._places.taken(fields)
            self._along.append(np.ascontiguousarray(np.moveaxis(taken.along, 0, -1)))
            self._across.append(np.ascontiguousarray(np.moveaxis(taken.across, 0, -1)))
            self._over.append(np.ascontiguousarray(fields[2, :, REST, 0, self._places.middle]))
        self._coil = self._places.taken(coil_air.field(coil, points))
        self._passes = StringPasses(layers, grid, radius, *self._modes(answer, places[pole], self._places.z))

    def _modes(self, answer: StringAnswer, place: PlacedPole, z: Array) -> tuple[Array, Array]:
        """A and G of :class:`.passes.StringPasses`."""
        g = self.grid

        def at(x: Array) -> tuple[Array, Array, Array]:
            X, Y, Z = np.broadcast_arrays(x, self.shape.y - place.y,
                                          z[:, None] - place.face + self.shape.slope * x)
            return X, Y, Z

        F = answer.factor(*at(g.middle), g.mirrored)
        return F[:, 1:] - F[:, :-1], np.stack(answer.gradient(*at(g.x), g.mirrored), axis=1)

    def solve(self, bias: Sequence[Array], signal: Sequence[Array], response: Array) -> Linkages:
        """Follow the static curve; ring charges (orders, K) by pole, and S (k, k)."""
        scale = MU0 * self.turns
        outside, own = self._of(bias), self._of(signal)
        found = self._passes.solve(outside, AlongString(along=self._coil.along + scale * own.along,
                                                        across=self._coil.across + scale * own.across), response)
        b0 = MU0 * float(sum(op @ g.ravel() for op, g in zip(self._over, bias, strict=True)))
        return Linkages(linkage=found.linkage, bias=b0, found=found)

    def back(self, found: Linkages, by_linkage: Array, by_bias: float, response: Array) -> StringWeights:
        """Weights from ∂J/∂λ (5,) and ∂J/∂B₀."""
        outside, own, answer = self._passes.back(found.found, by_linkage, response)
        scale = MU0 * self.turns
        bias = [b + MU0 * by_bias * o for b, o in zip(self._transposed(outside), self._over, strict=True)]
        return StringWeights(bias=[b.reshape(ORDERS, -1) for b in bias], response=answer,
                             signal=[scale * s.reshape(ORDERS, -1) for s in self._transposed(own)])

    def _of(self, charges: Sequence[Array]) -> AlongString:
        """The field of ring charges by pole."""
        return AlongString(along=np.asarray(sum(_times(op, g) for op, g in zip(self._along, charges, strict=True))),
                           across=np.asarray(sum(_times(op, g) for op, g in zip(self._across, charges, strict=True))))

    def _transposed(self, bars: AlongString) -> list[Array]:
        return [_transposed(a, bars.along) + _transposed(c, bars.across)
                for a, c in zip(self._along, self._across, strict=True)]


def _times(operator: Array, charges: Array) -> Array:
    return np.asarray(operator @ charges.ravel())


def _transposed(operator: Array, bar: Array) -> Array:
    return np.asarray(bar.ravel() @ operator.reshape(bar.size, -1))
