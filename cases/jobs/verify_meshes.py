"""The 3-D meshes of a verification: how fine they are, one after the other, and how far it goes on with them."""

from __future__ import annotations

from dataclasses import dataclass

from stringflux.geometry.mesh.solid_quality import SolidQuality
from stringflux.geometry.mesh.string_rod import RodSizes
from stringflux.geometry.rules import above, check, rising, whole

LEVELS = {"draft": (0.7, 1.0, 1.5), "normal": (1.0, 1.5, 2.2, 3.2), "fine": (1.5, 2.2, 3.2, 4.6)}


@dataclass(frozen=True, kw_only=True)
class VerifyNumerics:
    """Numerical settings of a verification, beside those of the chain.

    Attributes
    ----------
    levels : tuple of float, optional
        How fine the 3-D meshes are, one after the other, at least three, rising: 1 has elements of 2 mm in thick
        bodies. Those of the quality if left out.
    sure : int
        Meshes before the error is believed to be known, at least three.
    most_seconds : float
        What a further mesh may be expected to take, s.
    shift : float
        The string is also computed so much lower and higher, m; at most 0.3 of its gap.

    Raises
    ------
    InputError
        For a value that cannot be.
    """

    levels: tuple[float, ...] | None = None
    sure: int = 3
    most_seconds: float = 500.0
    shift: float = 0.5e-3

    def __post_init__(self) -> None:
        check(self, sure=whole(3), most_seconds=above(0.0, "s"), shift=above(0.0, "m"))
        if self.levels is not None:
            check(self, levels=rising(self.sure))

    def levels_of(self, quality: str) -> tuple[float, ...]:
        """How fine the meshes are at a quality of that name."""
        return self.levels or LEVELS[quality]


SHIPPED = VerifyNumerics()
"""What the program takes when it is told nothing else."""


def level_quality(factor: float) -> SolidQuality:
    """The mesh of a level; elements over bodies and strings go as 1/factor."""
    return SolidQuality(
        divisions=2 * factor, largest=2e-3 / factor, tip=0.9e-3 / factor, edge=0.5, growth=0.45 / factor, far=6.0,
        least=0.8e-3 / factor,
        rod=RodSizes(arc=max(2, round(2 * factor)), rings=max(1, round(1.5 * factor)), first=0.4e-3 / factor,
                     ratio=1 + 0.1 / factor))
