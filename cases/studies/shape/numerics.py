"""The numbers of the search for a shape that trade time for digits, in one record."""

from __future__ import annotations

from dataclasses import dataclass

from stringflux.geometry.rules import Rule, between, check, whole


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
    noise_steps, body_noise_steps : int
        Small steps over which noise is measured, more than the four coefficients of a smooth curve; at most, of a
        body, where each takes seconds.
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
        Of the box: a second search of the fit that moves less is not solved, nor a step that levels strings.
    level : float
        dB: strings are level, or a step gains too little, below it; far less than a mesh made anew changes.
    even : float
        dB: strings so level on a mesh made anew are level enough; draft meshes and steps of a file do as much.
    trusted : float
        Of the box, either way: the first step that levels strings.

    Raises
    ------
    InputError
        For a value that cannot be.
    """

    rounds: int = 3
    front_rounds: int = 2
    gain: float = 2e-4
    shrink: float = 0.6
    again: float = 0.15
    noise_steps: int = 15
    body_noise_steps: int = 9
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
    level: float = 5e-3
    even: float = 0.05
    trusted: float = 0.5

    def __post_init__(self) -> None:
        check(self, rounds=whole(1), front_rounds=whole(1), gain=between(0.0, 1.0), shrink=between(0.0, 0.99),
              again=between(0.0, 1.0), noise_steps=whole(5), body_noise_steps=whole(5),
              tolerance=between(0.0, 0.1), feasible=between(0.0, 0.1), ceiling_missed=between(0.0, 0.1),
              iterations=whole(1), scan=whole(3), fine=between(0.0, 0.5),
              degree=_two("two whole numbers from 1 on", (1, 1)), starts=whole(1), settled=between(0.0, 1.0),
              level=between(1e-6, 1.0), even=between(0.0, 1.0), trusted=between(1e-3, 1.0))
        check(self, places=_two("two whole numbers above those of degree", (self.degree[0] + 1, self.degree[1] + 1)))


def _two(words: str, least: tuple[int, int]) -> Rule:
    return Rule(words=words, holds=lambda v: (isinstance(v, tuple) and len(v) == 2 and all(
        whole(low).holds(one) for one, low in zip(v, least, strict=True))))


SHIPPED = SearchNumerics()
"""What the program takes when it is told nothing else."""
