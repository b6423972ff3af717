"""Gaps between magnetic bodies that are thinner than a 3-D mesh resolves: found, and said."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations

from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.units import mm

RESOLVED = 0.05e-3
"""Gaps from here on are resolved, m: from contact to here an excess of 0.04 dB remains at draft, 0.03 at normal."""

_TOUCHING = 1e-9  # m


def thin_gaps(bodies: Sequence[SolidBody]) -> tuple[str, ...]:
    """A sentence about the thinnest of them, or nothing.

    Parameters
    ----------
    bodies : sequence of SolidBody
        The magnetic ones.
    """
    found = [(gap, over.name, under.name) for over, under in permutations(bodies, 2)
             if _TOUCHING < (gap := over.form.bounds[0][2] - under.form.bounds[1][2]) < RESOLVED * (1 - 1e-6)
             and _overlap(over, under)]
    if not found:
        return ()
    gap, over, under = min(found)
    return (f"{over} stands {mm(round(gap, 9))} over {under}; a mesh does not resolve so thin a gap, and strings may "
            f"be off by some 0.2 dB. Let them touch, or leave {mm(RESOLVED)}.",)


def _overlap(a: SolidBody, b: SolidBody) -> bool:
    """Whether one is over the other, by the boxes about them."""
    (low_a, high_a), (low_b, high_b) = a.form.bounds, b.form.bounds
    return all(low_a[k] < high_b[k] and low_b[k] < high_a[k] for k in (0, 1))
