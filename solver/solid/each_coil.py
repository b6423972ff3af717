"""The fields of a solved build coil by coil: B₀ with b of each coil alone, at the price of one.

Nearly all of that price is 1/R³ between points and charges, which every excitation has in common. The coils' fields
are asked for at the same points one after the other, so the last few answers are kept, of all excitations each.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from stringflux.geometry.arrays import Array

from ..coil import air as coil_air
from ..constants import MU0
from ..seam import Answer, Place, Sampled
from .charges import Charges
from .field import CLOSE, SolidField

_KEPT = 6  # a string at rest and its map have two samples each


@dataclass(frozen=True, kw_only=True, eq=False)
class _Samples:
    """B₀ and b of one turn of every coil, (1 + coils, 3, n), T and T/A; the last ones are kept."""

    build: SolidField
    kept: OrderedDict[tuple[object, ...], Array] = field(default_factory=OrderedDict)

    def near(self, middle: float, points: Array) -> Array:
        """Of the charges close to y = middle."""
        return self._of("near", middle, points, lambda: self._charged(middle, True, points))

    def away(self, middle: float, points: Array) -> Array:
        """Of all other charges and of the coils in air."""
        def sample() -> Array:
            out = self._charged(middle, False, points)
            for one, coil in zip(out[1:], self.build.coils, strict=True):
                one += coil_air.field(coil, points)
            return out

        return self._of("away", middle, points, sample)

    def _charged(self, middle: float, close: bool, points: Array) -> Array:
        places = self.build.charges.places
        charges: Charges = self.build.charges.where((np.abs(places[1] - middle) < CLOSE) == close)
        return np.asarray(MU0 * charges.field(points))

    def _of(self, kind: str, middle: float, points: Array, sample: Callable[[], Array]) -> Array:
        key = kind, middle, points.shape, points.tobytes()
        if key not in self.kept:
            self.kept[key] = sample()
            while len(self.kept) > _KEPT:
                self.kept.popitem(last=False)
        return self.kept[key]


@dataclass(frozen=True, kw_only=True, eq=False)
class CoilField:
    """What :class:`SolidField` is of all coils, of one of them.

    Attributes
    ----------
    build : SolidField
    coil : int
        From 0.
    turns : float
        Signed by the sense it is wound in.
    """

    build: SolidField
    coil: int
    turns: float
    samples: _Samples

    @property
    def mirrored(self) -> bool:
        """Whether B₀ and b are their own mirror image along the strings."""
        return self.build.mirrored

    @property
    def places(self) -> Sequence[Place]:
        """What lies under the strings."""
        return self.build.places

    @property
    def answers(self) -> Sequence[Answer]:
        """What that does to a string's own field."""
        return self.build.answers

    @property
    def spread(self) -> float:
        """How far from x = 0 the middle of a coil lies, m."""
        return self.build.spread

    def nearest(self, y: float) -> int:
        """Index of the place nearest to y."""
        return self.build.nearest(y)

    def parts(self, middle: float) -> tuple[Sampled, Sampled]:
        """B₀ and b (6, n) at points (3, n), of what is close to a string at y = middle and of all else."""
        return (lambda points: self._pair(self.samples.near(middle, points)),
                lambda points: self._pair(self.samples.away(middle, points)))

    def _pair(self, every: Array) -> Array:
        return np.concatenate([every[0], self.turns * every[1 + self.coil]])


def each_coil(build: SolidField, turns: Array) -> tuple[CoilField, ...]:
    """B₀ with b of every coil alone.

    Parameters
    ----------
    turns : array (coils,)
        Signed by the sense each is wound in.
    """
    samples = _Samples(build=build)
    return tuple(CoilField(build=build, coil=k, turns=float(n), samples=samples) for k, n in enumerate(turns))
