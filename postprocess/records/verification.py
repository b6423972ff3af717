"""One string computed both ways, by the fast chain and in 3-D; the whole is :mod:`..results.verification`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from stringflux.geometry.arrays import Array

REFINED = 1.5
"""From one mesh to the next elements are so much smaller."""
ORDER = 4 / 3
"""Power of the size that the error falls with, at least: by the rims of poles, where B goes as ρ^(−1/3)."""


@dataclass(frozen=True, kw_only=True)
class Figures:
    """One computation of a string over a pickup.

    Attributes
    ----------
    bias, reciprocal : float
        z components of B₀ (T) and b (T/A), means over the string's metal within 1 mm of
        the x that its gap counts at.
    inductance : float
        H.
    linkage, linkage_low, linkage_high : float
        λ at rest and with the string lower and higher, Wb.
    sensitivity : float
        |S| as the difference of the last two over their distance, V·s/m.
    unknowns : int
        Of the 3-D mesh.
    seconds : float
    """

    NAMES: ClassVar[tuple[str, ...]] = ("bias", "reciprocal", "inductance", "linkage", "linkage_low", "linkage_high",
                                        "sensitivity")
    bias: float
    reciprocal: float
    inductance: float
    linkage: float
    linkage_low: float
    linkage_high: float
    sensitivity: float
    unknowns: int
    seconds: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Compared:
    """The figures of one string both ways.

    Attributes
    ----------
    shift : float
        How much lower and higher the string was computed as well, m.
    axis_height : float
        Of the string over the top plate, m.
    chain, chain_other : Figures
        At the quality and at a neighbouring one.
    levels : tuple of Figures
        3-D, mesh by mesh.
    heights, curve : arrays (n,)
        λ of the chain (Wb) over heights of the axis (m).
    """

    shift: float
    axis_height: float
    chain: Figures
    chain_other: Figures
    levels: tuple[Figures, ...]
    heights: Array
    curve: Array

    TARGETS: ClassVar[dict[str, float]] = {
        "bias": 0.01, "reciprocal": 0.01, "inductance": 0.005, "linkage": 0.01, "linkage_low": 0.01,
        "linkage_high": 0.01, "sensitivity": 0.01}

    @property
    def solid(self) -> Figures:
        """The finest mesh's."""
        return self.levels[-1]

    def difference(self, name: str) -> float:
        """Chain less 3-D, as a share of 3-D."""
        return float(getattr(self.chain, name) / getattr(self.solid, name) - 1.0)

    def chain_error(self, name: str) -> float:
        """Share by which the chain's figure changes at the neighbouring quality."""
        return abs(float(getattr(self.chain_other, name) / getattr(self.chain, name) - 1.0))

    def solid_error(self, name: str) -> float:
        """Share by which the finest mesh's figure may be off."""
        return self.solid_share(self.levels, name)

    @staticmethod
    def solid_share(levels: Sequence[Figures], name: str) -> float:
        """The last change over r^p − 1: what is left if the error falls with the power p and sizes by r."""
        last, before = (getattr(levels[i], name) for i in (-1, -2))
        return float(abs(before / last - 1.0) / (REFINED**ORDER - 1.0))

    @property
    def beyond(self) -> tuple[str, ...]:
        """Names of the figures that differ by more than their target."""
        return tuple(name for name in Figures.NAMES if abs(self.difference(name)) > self.TARGETS[name])
