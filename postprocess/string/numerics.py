"""The numbers of the string stage that trade time for digits, in one record.

What each of them costs is in docs/measured.md ("Numerical settings").
"""

from __future__ import annotations

from dataclasses import dataclass

from stringflux.geometry.rules import above, check, whole
from stringflux.solver.seam import REACH


@dataclass(frozen=True, kw_only=True)
class StringNumerics:
    """Numerical settings of a string in the fields.

    Attributes
    ----------
    reach : float
        Half the length of string looked at, m; at most what the solver's fields were tabulated for.
    refine : float
        Divides the steps of the grid along the string.
    passes : int
        Between the magnetisation along the string and the one across, which meet in the pole below, at least 1; a
        third changes S by less than 0.02 %.

    Raises
    ------
    InputError
        For a value that cannot be.
    """

    reach: float = REACH
    refine: float = 1.0
    passes: int = 2

    def __post_init__(self) -> None:
        check(self, reach=above(0.0, "m"), refine=above(0.0), passes=whole(1))


SHIPPED = StringNumerics()
"""What the program takes when it is told nothing else."""
