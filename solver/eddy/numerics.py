"""The numbers of eddy currents in builds that trade time for digits, in one record."""

from __future__ import annotations

from dataclasses import dataclass

from stringflux.geometry.rules import above, check, rising, whole


@dataclass(frozen=True, kw_only=True)
class EddyNumerics:
    """Numerical settings of eddy currents in sheets and bodies.

    Attributes
    ----------
    patterns : int
        Patterns of current in the sheets for every coil; more than three change ΔL_c by 0.1 %.
    middle : float
        Middle of the band of interest, Hz.
    spread : tuple of float
        Frequencies at which the sheets' answer is taken to choose the patterns, in parts of `middle`, rising.

    Raises
    ------
    InputError
        For a value that cannot be.
    """

    patterns: int = 3
    middle: float = 3e3
    spread: tuple[float, ...] = (0.05, 0.3, 1.0, 3.0)

    def __post_init__(self) -> None:
        check(self, patterns=whole(1), middle=above(0.0, "Hz"), spread=rising(1))


SHIPPED = EddyNumerics()
"""What the program takes when it is told nothing else."""
