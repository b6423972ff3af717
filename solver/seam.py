"""The one seam of the program: what a string, and all that is told of a pickup, needs of a solution, whichever solver
it came from: a row of poles, a section of long bars, or a build in 3-D.

A solver fills :class:`Solved`; strings ask its field for B₀ and b in two parts and for the answer of what lies below
them. Solvers that take the heights of strings beforehand are told of them as :class:`Over`.

Signs and units: x along the strings, y across, z up; B₀ in T, b in T per ampere at the terminals, so λ = ∫ M·b dV.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from stringflux.geometry.arrays import Array

REACH = 60e-3
"""Half the length of string looked at, m; 110 mm moves S by 0.01 % (thin) to 0.1 % (thickest)."""

_LOWEST = 0.3e-3  # m, over a face: as low as strings are looked at, unless one lies lower still

Sampled = Callable[[Array], Array]


class Place(Protocol):
    """What lies under a string."""

    @property
    def y(self) -> float:
        """Its place across, m."""

    @property
    def face(self) -> float:
        """Height of its face, m."""

    @property
    def radius(self) -> float:
        """Of its face, m; 0 for a body that is no pole."""


class Across(Protocol):
    """What strings further across do to the modes of an answer."""

    @property
    def between(self) -> bool:
        """Whether what goes from one string to another by way of it, and back, counts."""

    def driven(self, x: Array, y: Array, z: Array, charge: Array, dipole: Array, mirrored: bool, /) -> Array:
        """What charges (n, s), A·m, and dipoles (n, s, 3), A·m², at points (n,) relative to the answer's place drive,
        (k, s): F times it is the answer's potential, with `mirrored` as :meth:`Answer.factor` has it then."""


class Answer(Protocol):
    """What the bodies there do to a string's own field, at points (…, n) relative to a place and its face, m."""

    @property
    def across(self) -> Across | None:
        """What it does to a string further across; None where it is known for one in its own place alone."""

    def factor(self, x: Array, y: Array, z: Array, mirrored: bool, /) -> Array:
        """F (…, n, k) with the answer's potential G = F S F'ᵀ; with `mirrored` every charge also sits at −x."""

    def gradient(self, x: Array, y: Array, z: Array, mirrored: bool, /) -> tuple[Array, Array]:
        """∂F/∂y and ∂F/∂z, (…, n, k) each."""

    def matrix(self, mirrored: bool, /) -> Array:
        """S (k, k), symmetric."""


class StringField(Protocol):
    """B₀ and b, and the answers of what lies below: all that a string sees of a solution."""

    @property
    def mirrored(self) -> bool:
        """Whether both fields are their own mirror image along the strings."""

    @property
    def places(self) -> Sequence[Place]:
        """One for each answer."""

    @property
    def answers(self) -> Sequence[Answer]:
        """One for each place."""

    @property
    def spread(self) -> float:
        """How far from x = 0 the middle of a coil lies, m."""

    def parts(self, middle: float, /) -> tuple[Sampled, Sampled]:
        """B₀ and b (6, n) at points (3, n), of what is close to a string at y = middle and of all else."""

    def nearest(self, y: float, /) -> int:
        """Index of the place nearest to y."""


class SolvedField(StringField, Protocol):
    """The same fields at any points above the bodies."""

    def bias(self, points: Array, /) -> Array:
        """B₀ (3, n) in T at points (3, n), m."""

    def reciprocal(self, points: Array, /) -> Array:
        """b (3, n) in T per ampere at the terminals."""


class Solved(Protocol):
    """Fields and circuit figures by one solver, the coils as they are wound and connected."""

    @property
    def field(self) -> SolvedField:
        """B₀ and b."""

    @property
    def inductance_air(self) -> float:
        """Of the coils alone, H."""

    @property
    def inductance(self) -> float:
        """The same with poles and bodies, H."""

    def face_field(self, height: float, /) -> Array:
        """B_z (poles,) in T on each pole's axis, `height` m over its face; of what has no poles (0,)."""


@dataclass(frozen=True, kw_only=True)
class Over:
    """A string to be answered: its place across, the face below it, and the heights over that face it may come to."""

    y: float
    face: float
    low: float
    high: float

    def counted_from(self, top: float) -> Over:
        """The string with its heights counted from just under the lowest place it may come to, or from the `top` of
        all bodies if it stays over that: between there and the body below something else may stand at another y."""
        face = min(top, self.face + self.low - _LOWEST)
        shift = self.face - face
        return replace(self, face=face, low=self.low + shift, high=self.high + shift)


@dataclass(frozen=True, kw_only=True)
class AnsweredPlace:
    """A :class:`Place` under a string by its three numbers, m."""

    y: float
    face: float
    radius: float = 0.0


def lowest_looked_at(low: float) -> float:
    """How low over a face a string is looked at that may come down to `low`, m."""
    return min(low, _LOWEST)


def heights_covered(strings: Sequence[Over], step: float) -> tuple[float, float]:
    """Lowest and highest, over a face, of what serves all these strings, m; in coarse steps, so that another gap
    mostly finds the same."""
    highest = max(s.high for s in strings)
    return lowest_looked_at(min(s.low for s in strings)), math.ceil(round(highest / step, 6)) * step
