"""The fields of a solved build coil by coil: B₀ with b of each coil alone, at the price of one (:mod:`.samples`)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

from ..seam import Answer, Place, Sampled
from .field import SolidField


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
        return (lambda points: self._pair(self.build.samples.near(middle, points)),
                lambda points: self._pair(self.build.samples.away(middle, points)))

    def _pair(self, every: Array) -> Array:
        return np.concatenate([every[0], self.turns * every[1 + self.coil]])


def each_coil(build: SolidField, turns: Array) -> tuple[CoilField, ...]:
    """B₀ with b of every coil alone.

    Parameters
    ----------
    turns : array (coils,)
        Signed by the sense each is wound in.
    """
    return tuple(CoilField(build=build, coil=k, turns=float(n)) for k, n in enumerate(turns))
