"""Closed rings of directed edges."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]


def chained(directed: Ints) -> list[list[int]]:
    """Directed edges (m, 2) as closed rings of points."""
    after: dict[int, list[int]] = {}
    for a, b in directed.tolist():
        after.setdefault(a, []).append(b)
    rings = []
    while after:
        start = next(iter(after))
        ring, here = [], start
        while here in after:
            ring.append(here)
            ends = after[here]
            following = ends.pop()
            if not ends:
                del after[here]
            here = following
        rings.append(ring)
    return rings
