"""What a string needs of a solution, whichever solver it came from: a row of poles or a 3-D build."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Protocol

from stringflux.geometry.arrays import Array

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


class Answer(Protocol):
    """What the bodies there do to a string's own field: :class:`.StringAnswer` and its like."""

    def factor(self, x: Array, y: Array, z: Array, mirrored: bool, /) -> Array:
        """F (…, n, k) with the answer's potential G = F S F'ᵀ."""

    def gradient(self, x: Array, y: Array, z: Array, mirrored: bool, /) -> tuple[Array, Array]:
        """∂F/∂y and ∂F/∂z."""

    def matrix(self, mirrored: bool, /) -> Array:
        """S (k, k)."""


class StringField(Protocol):
    """B₀ and b, and the answers of what lies below: :class:`.RowField` and :class:`.SolidField`."""

    @property
    def mirrored(self) -> bool:
        """Whether both fields are their own mirror image along the strings."""

    @property
    def places(self) -> Sequence[Any]:
        """A :class:`Place` for each answer."""

    @property
    def answers(self) -> Sequence[Any]:
        """An :class:`Answer` for each place."""

    @property
    def spread(self) -> float:
        """How far from x = 0 the middle of a coil lies, m."""

    def parts(self, middle: float, /) -> tuple[Sampled, Sampled]:
        """B₀ and b (6, n) at points (3, n), of what is close to a string at y = middle and of all else."""

    def nearest(self, y: float, /) -> int:
        """Index of the place nearest to y."""
