"""B₀ and b of every coil alone where strings asked for them, remembered: other turns and connections sum nothing.

Nearly all of the price is 1/R³ between points and charges, which every excitation has in common.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import Racetrack

from ..coil import air as coil_air
from ..coil.direct import NO_CURRENTS, DirectCurrents
from ..constants import MU0
from .charges import Charges
from .clusters import Beside

CLOSE = 8e-3
"""Charges nearer than this across the strings are sampled at all nodes of a string, m."""
_KEPT = 64  # samples; a string at rest and its map have two each, of a quarter of a megabyte and less


@dataclass(frozen=True, kw_only=True, eq=False)
class Samples:
    """B₀ and b of one turn of every coil, (1 + coils, 3, n), T and T/A; the last ones are kept.

    Attributes
    ----------
    charges : Charges
        Excitation 0 the bias, then one ampere in one turn of each coil.
    coils : sequence of Racetrack
        Of one turn each.
    direct : DirectCurrents
        Whose field in air is a part of B₀.
    """

    charges: Charges
    coils: Sequence[Racetrack]
    direct: DirectCurrents = NO_CURRENTS
    _kept: OrderedDict[tuple[object, ...], Array] = field(default_factory=OrderedDict)

    def near(self, middle: float, points: Array) -> Array:
        """Of the charges close to y = middle."""
        return self._of("near", middle, points, lambda: self._charged(middle, True, points))

    def away(self, middle: float, points: Array) -> Array:
        """Of all other charges and of the coils in air."""
        def sample() -> Array:
            out = self._charged(middle, False, points)
            out[0] += self.direct.field(points)
            for one, coil in zip(out[1:], self.coils, strict=True):
                one += coil_air.field(coil, points)
            return out

        return self._of("away", middle, points, sample)

    def _charged(self, middle: float, close: bool, points: Array) -> Array:
        return np.asarray(MU0 * self.charges.beside(points, Beside(middle=middle, reach=CLOSE, inside=close)))

    def _of(self, kind: str, middle: float, points: Array, sample: Callable[[], Array]) -> Array:
        key = kind, middle, points.shape, points.tobytes()
        if key not in self._kept:
            self._kept[key] = sample()
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
        self._kept.move_to_end(key)
        return self._kept[key]
