"""What problems of changing shapes have in common: figures by name of a design, and their gradients."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from typing import Generic, Protocol, TypeVar

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError


class Designed(Protocol):
    """A solved design: all figures by name, SI."""

    @property
    def values(self) -> Mapping[str, float]: ...


D = TypeVar("D", bound=Designed)


class ShapeFigures(ABC, Generic[D]):
    """Figures as functions of where a shape is: parameters, or places of nodes."""

    @property
    @abstractmethod
    def names(self) -> tuple[str, ...]:
        """Names of the figures."""

    @abstractmethod
    def solve(self, at: Array) -> D:
        """The design there, to go on from."""

    @abstractmethod
    def back(self, found: D, weights: Mapping[str, float]) -> Array:
        """∂/∂ of the place of Σ weight × figure, of figures that there are."""

    def value(self, at: Array) -> dict[str, float]:
        """All figures there, SI; errors as of :meth:`solve`."""
        return dict(self.solve(at).values)

    def value_and_gradient(self, at: Array, figures: Sequence[str] = ("sensitivity",)
                           ) -> tuple[dict[str, float], dict[str, Array]]:
        """All figures there, and ∂figure/∂ of the place, in its shape, of those named, SI per m."""
        found = self.solve(at)
        return dict(found.values), {name: self.gradient(found, {name: 1.0}) for name in figures}

    def gradient(self, found: D, weights: Mapping[str, float]) -> Array:
        """∂/∂ of the place, in its shape, of Σ weight × figure at a solved design: one pass back for the whole sum.

        Raises
        ------
        CaseError
            If there is no such figure.
        """
        unknown = [name for name in weights if name not in self.names]
        if unknown:
            raise CaseError(f"figure: there is no {unknown[0]!r}; there are {', '.join(self.names)}")
        return self.back(found, weights)


def of_each_string(count: int) -> tuple[str, ...]:
    """Names of what every string has: S, linkage and bias by its number."""
    return tuple(f"{what}_{i + 1}" for i in range(count) for what in ("S", "linkage", "bias"))
