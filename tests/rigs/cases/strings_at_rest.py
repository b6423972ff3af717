"""One figure of every string of a case, as checks want them: in a list."""

from __future__ import annotations

from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings


def undersides(case: Case) -> list[float]:
    """Heights of the strings' undersides over the top plate, above x = 0, m."""
    return [s.underside for s in placed_strings(case)]


def gaps(case: Case) -> list[float]:
    """Of the strings over what is under each, m."""
    return [s.gap for s in placed_strings(case)]


def faces_below(case: Case) -> list[float]:
    """Heights over the top plate of what the gaps count from, m."""
    return [s.face.height for s in placed_strings(case)]


def string_places(case: Case) -> list[float]:
    """Of the strings across the row, m."""
    return [s.y for s in placed_strings(case)]


def poles(case: Case) -> list[int]:
    """Number of each string's pole, through all rows; 0 in a case without poles."""
    return [s.pole for s in placed_strings(case)]
