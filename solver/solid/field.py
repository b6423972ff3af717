"""B₀ and b of a solved build at points above it: what the string stage sees of the 3-D solver.

The same two fields, the same two parts (close by and smooth) and the same answers as a row of poles gives
(:mod:`.row.field`); the strings cannot tell which solver they came from.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import block_diag

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import Racetrack

from ..across import AcrossByModes
from ..coil import air as coil_air
from ..coil.direct import NO_CURRENTS, DirectCurrents
from ..constants import MU0
from ..line_answer import LineAnswer
from ..row.string_answer import StringAnswer
from ..seam import Across, Place, Sampled
from .charges import Charges
from .samples import Samples


@dataclass(frozen=True, kw_only=True, eq=False)
class SeveralAnswers:
    """The answers of several poles under one string, each pole at (x, y, z) from the place they are told of."""

    answers: tuple[StringAnswer, ...]
    offsets: tuple[tuple[float, float, float], ...]

    @property
    def across(self) -> Across:
        """y counts."""
        return AcrossByModes(self)

    def factor(self, x: Array, y: Array, z: Array, mirrored: bool) -> Array:
        """F (…, n, k), as :meth:`StringAnswer.factor`."""
        return self._all(lambda a, *at: a.factor(*at, False), x, y, z, mirrored)

    def gradient(self, x: Array, y: Array, z: Array, mirrored: bool) -> tuple[Array, Array]:
        """∂F/∂y and ∂F/∂z."""
        both = self._all(lambda a, *at: np.stack(a.gradient(*at, False)), x, y, z, mirrored)
        return both[0], both[1]

    def _all(self, columns: Callable[..., Array], x: Array, y: Array, z: Array, mirrored: bool) -> Array:
        """Columns of all poles for charges at x, or with `mirrored` half of what those at x and at −x give together.

        Seen from a pole that is not at x = 0 the two are no mirror images, so none of its orders drops out.
        """
        out = []
        for a, (p, q, r) in zip(self.answers, self.offsets, strict=True):
            here = columns(a, x - p, y - q, z - r)
            out.append((here + columns(a, -x - p, y - q, z - r)) / 2 if mirrored else here)
        return np.concatenate(out, axis=-1)

    def matrix(self, mirrored: bool) -> Array:
        """S (k, k)."""
        return np.asarray(block_diag(*(a.matrix(False) for a in self.answers))) * (2.0 if mirrored else 1.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class SolidField:
    """Fields of a solved build.

    Attributes
    ----------
    coils : tuple of Racetrack
        Of one turn, counter-clockwise.
    weights : array (coils,)
        Signed turns of each as they are connected: b = Σ w b_k.
    charges : Charges
        Excitation 0 the bias, then one ampere in one turn of each coil.
    places : sequence of Place
        One for each answer.
    answers : sequence
        What the bodies under those places do to a string's own field.
    mirrored : bool
        Whether B₀ and b are their own mirror image along the strings.
    direct : DirectCurrents
        What B₀ has of coils in air; their share in the charges is there already.
    """

    coils: tuple[Racetrack, ...]
    weights: Array
    charges: Charges
    places: Sequence[Place]
    answers: Sequence[SeveralAnswers | LineAnswer]
    mirrored: bool
    direct: DirectCurrents = NO_CURRENTS

    @property
    def turns(self) -> float:
        """1: the weights hold all turns."""
        return 1.0

    def connected(self, weights: Array) -> SolidField:
        """The same build with its coils connected another way."""
        return replace(self, weights=np.asarray(weights, dtype=float))

    def over(self, places: Sequence[Place], answers: Sequence[SeveralAnswers | LineAnswer]) -> SolidField:
        """The same build under other strings."""
        return replace(self, places=tuple(places), answers=tuple(answers))

    def of_coil(self, points: Array) -> Array:
        """B of the coils in air, T per ampere at the terminals, (3, n)."""
        total = np.zeros_like(points)
        for coil, w in zip(self.coils, self.weights, strict=True):
            if w:
                total += w * coil_air.field(coil, points)
        return total

    def bias(self, points: Array) -> Array:
        """B₀ (3, n) in T."""
        return np.asarray(self._of(self._pair(self.charges), points)[:3] + self.direct.field(points))

    def reciprocal(self, points: Array) -> Array:
        """b (3, n) in T per ampere at the terminals."""
        return np.asarray(self._of(self._pair(self.charges), points)[3:] + self.of_coil(points))

    @property
    def spread(self) -> float:
        """How far from x = 0 the middle of a coil lies, m."""
        return max((abs(c.x_centre) for c in self.coils), default=0.0)

    def parts(self, middle: float) -> tuple[Sampled, Sampled]:
        """B₀ and b (6, n) at points (3, n) for a string at y = middle: of what is close by, and of all else."""
        def connected(every: Array) -> Array:
            return np.concatenate([every[0], np.tensordot(self.weights, every[1:], 1)])

        return (lambda points: connected(self.samples.near(middle, points)),
                lambda points: connected(self.samples.away(middle, points)))

    @property
    def samples(self) -> Samples:
        """What strings asked for of these charges and coils, however they are connected."""
        kept: Samples = self.charges.kept.setdefault((self.coils, self.direct), Samples(
            charges=self.charges, coils=self.coils, direct=self.direct))
        return kept

    def nearest(self, y: float) -> int:
        """Index of the place nearest to y."""
        return int(np.argmin([abs(p.y - y) for p in self.places]))

    def _pair(self, charges: Charges) -> Charges:
        values = np.stack([charges.values[0], self.weights @ charges.values[1:]])
        return Charges(places=charges.places, values=values)

    @staticmethod
    def _of(pair: Charges, points: Array) -> Array:
        return np.asarray(MU0 * pair.field(points).reshape(6, -1))


def field_in_air(coils: Sequence[Racetrack], weights: Array, direct: DirectCurrents) -> SolidField:
    """The fields of coils where nothing is magnetic.

    Parameters
    ----------
    coils : sequence of Racetrack
        Of one turn, counter-clockwise.
    weights : array (coils,)
        Signed turns of each as they are connected.
    direct : DirectCurrents
    """
    nothing = Charges(places=np.zeros((3, 0)), values=np.zeros((1 + len(coils), 0)))
    return SolidField(coils=tuple(coils), weights=weights, charges=nothing, places=(), answers=(), mirrored=False,
                      direct=direct)
