"""How many pickups keep limits, and how many would if the materials were at either end of what is known of them.

What is unknown of a material is alike in all pickups: it moves a whole sample and spreads nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from stringflux.geometry.arrays import Array

from ..designs.limits import Limit
from .result import LimitShare
from .statistics import Share, share_of

DOUBT = ("inductance_least", "inductance_most")
"""Figures of the case as it stands that tell of that doubt."""
SURE = (1.0, 1.0)


def doubts_of(values: Mapping[str, float]) -> dict[str, tuple[float, float]]:
    """What the doubt multiplies quantities with, low and high, by name, from the figures of the case as it stands."""
    if not set(DOUBT) <= set(values):
        return {}
    low, high = (values[name] / values["inductance"] for name in DOUBT)
    return {"inductance": (low, high)} if (low, high) != SURE else {}


def kept(text: str, limits: Sequence[Limit], sample: Mapping[str, Array], true: Mapping[str, Array],
         doubts: Mapping[str, tuple[float, float]]) -> LimitShare:
    """The share that keeps all of some limits.

    Parameters
    ----------
    text : str
        What they are called.
    limits : sequence of Limit
    sample, true : mapping of str to array
        Values (n,) of quantities: of the surrogate's sample, and of the pickups that the program computed.
    doubts : mapping
        From :func:`doubts_of`.
    """
    def inside(values: Mapping[str, Array]) -> Share:
        return share_of(np.logical_and.reduce([x.keeps(values) for x in limits]))

    spans = {x.name: doubts[x.name] for x in limits if x.name in doubts}

    def at(end: int) -> float:
        return inside({**sample, **{name: span[end] * sample[name] for name, span in spans.items()}}).value

    return LimitShare(text=text, sample=inside(sample), true=inside(true), ends=(at(0), at(1)) if spans else None)
