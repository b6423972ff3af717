"""The numbers of the search for a shape that trade time for digits, in one record."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class SearchNumerics:
    """Numerical settings of a search, beside those of the rows that it solves.

    Lengths and goals are without units here: x over the range of each length, goals over their size at the start.

    Attributes
    ----------
    rounds, front_rounds : int
        Meshes made anew at the most, for one goal and for a point of a front.
    gain : float
        A round that gains less is the last: less than a new mesh changes.
    shrink : float
        By what the box is made smaller when a mesh cannot follow over all of it.
    again : float
        Of the range, either way, that later rounds search: they only mend what the new mesh changed.
    noise_steps : int
        Small steps over which noise is measured, more than the four coefficients of a smooth curve.
    tolerance : float
        Of a goal.
    feasible : float
        By how much a limit may be missed, in parts of its size.
    ceiling_missed : float
        By how much a search may leave the other goal over its ceiling, in parts of that.
    iterations : int
        Most steps of one search.
    scan : int
        Places at which a goal of one length is looked at before the search between the best, at least three.
    fine : float
        How closely one length is found: far below a lathe's steps.
    places : (int, int)
        Shapes along each length that a front is fitted to, of forms of one and of two lengths.
    degree : (int, int)
        Of the fit's polynomials, likewise and below `places`; of bench-single's bevel 4 leaves 0.2 % (output) and
        0.5 % (aperture) of their ranges.
    starts : int
        Searches of the fit begin at its best places, so many.
    settled : float
        Of the box: a second search of the fit that moves less is not solved.
    """

    rounds: int = 3
    front_rounds: int = 2
    gain: float = 2e-4
    shrink: float = 0.6
    again: float = 0.15
    noise_steps: int = 15
    tolerance: float = 1e-6
    feasible: float = 1e-6
    ceiling_missed: float = 1e-5
    iterations: int = 40
    scan: int = 9
    fine: float = 1e-3
    places: tuple[int, int] = (13, 7)
    degree: tuple[int, int] = (8, 4)
    starts: int = 3
    settled: float = 2e-3


SHIPPED = SearchNumerics()
"""What the program takes when it is told nothing else."""
