"""What strings do to each other, of a case."""

from __future__ import annotations

from stringflux.postprocess.records.neighbours import NeighbourEffect
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.neighbours import neighbour_effects

from ..solved.abstract import SolvedCase
from ..solved.solve_row import one_thread

COUNTS = 5e-3
"""Of S: less is under what the computation itself is off."""


def neighbours_of(solved: SolvedCase) -> tuple[NeighbourEffect, ...]:
    """Every string among the others, all coils as they are connected."""
    with one_thread():
        return neighbour_effects(solved.solution().field,
                                 [(s.shape, layers_of(s.shape, solved.materials)) for s in solved.strings],
                                 solved.numerics.string)


def neighbour_words(effects: tuple[NeighbourEffect, ...]) -> tuple[str, ...]:
    """A note of strings whose S the others change by more than counts."""
    told = [e for e in effects if abs(e.sensitivity) > COUNTS]
    if not told:
        return ()
    each = ", ".join(f"of string {e.number} by {100 * e.sensitivity:+.1f} %" for e in told)
    taken = [-100 * e.linkage for e in told]
    flux = (f"of the flux linkage they take {_range(taken)} %" if min(taken) >= 0 else
            f"the flux linkage changes by {_range([-t for t in taken])} %")
    return (f"every string is computed alone over the pickup. Those beside it change S {each}; {flux}.",)


def _range(values: list[float]) -> str:
    low, high = f"{min(values):.0f}", f"{max(values):.0f}"
    return low if low == high else f"{low} to {high}"
