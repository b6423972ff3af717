"""Which bodies touch others, and which way they come off them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

from ..shapes.bodies import Form, SolidBody
from .session import gmsh_model
from .solids import add_form

Way = tuple[int, int]
"""An axis, 0 to 2, and −1 or 1 along it."""


def distance(first: Form, second: Form) -> float:
    """Between two bodies, m; 0 where they touch.

    Raises
    ------
    MissingLibraryError
        When gmsh cannot be loaded.
    """
    with gmsh_model("distance") as gmsh:
        occ = gmsh.model.occ
        solids = [add_form(occ, form) for form in (first, second)]
        return min(float(occ.getDistance(*a, *b)[0]) for a in solids[0] for b in solids[1])


def touching(group: Sequence[SolidBody], others: Sequence[SolidBody],
             nearer: float) -> list[tuple[SolidBody, SolidBody]]:
    """The pairs, one of the group and one of the others, that are nearer to each other than this, m."""
    return [(a, b) for a, b in product(group, others)
            if _between_boxes(a.form, b.form) < nearer and distance(a.form, b.form) < nearer]


def way_off(pairs: Sequence[tuple[SolidBody, SolidBody]], nearer: float) -> Way | None:
    """The one way along x, y or z that takes the first of every pair straight off the second, or None."""
    ways = [_ways(a.form, b.form, nearer) for a, b in pairs]
    common = set.intersection(*ways) if ways else set()
    return common.pop() if len(common) == 1 and all(len(w) == 1 for w in ways) else None


def _between_boxes(a: Form, b: Form) -> float:
    (low_a, high_a), (low_b, high_b) = np.array(a.bounds), np.array(b.bounds)
    return float(np.linalg.norm(np.maximum(np.maximum(low_a - high_b, low_b - high_a), 0.0)))


def _ways(a: Form, b: Form, nearer: float) -> set[Way]:
    (low_a, high_a), (low_b, high_b) = np.array(a.bounds), np.array(b.bounds)
    return {*((k, 1) for k in range(3) if abs(low_a[k] - high_b[k]) < nearer),
            *((k, -1) for k in range(3) if abs(high_a[k] - low_b[k]) < nearer)}
