"""One kind of scatter, and how it is spread between its limits.

A cause deviates by limit · t. Independent numbers u, even on (0, 1), give the t of every cause:

    normal       t = Φ⁻¹(Φ(−3) + u (1 − 2 Φ(−3)))/3: the limits lie at three standard deviations, where it is cut off
    even         t = 2u − 1
    one-sided    (charge) the half of that below 0, so t in (−1, 0)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy.special import ndtr, ndtri

from stringflux.geometry.arrays import Array

ONE_SIDED = frozenset({"charge", "charge_each"})


@dataclass(frozen=True, kw_only=True)
class Cause:
    """One kind of scatter.

    Attributes
    ----------
    name : str
        Its key under [scatter].
    title : str
    limit : float
        To either side (below only, if one-sided); a share, or a length in m.
    items : tuple of int
        Numbers (from 1) of the poles, magnets, strings, coils or batches that have a deviation of their own; (0,) if
        all share one.
    even : bool
        Spread evenly; else normal.
    given : bool
        Whether the case file says the limit.
    reason : str
        Why this limit.
    own : mapping of int to float
        Limits of items that have another one.
    names : mapping of int to str
        What items are called, where that is not their number.
    """

    name: str
    title: str
    limit: float
    items: tuple[int, ...]
    even: bool = False
    given: bool = False
    reason: str = ""
    own: Mapping[int, float] = field(default_factory=dict)
    names: Mapping[int, str] = field(default_factory=dict)

    @property
    def one_sided(self) -> bool:
        return self.name in ONE_SIDED

    def limit_of(self, item: int) -> float:
        """Of one of its items."""
        return self.own.get(item, self.limit)

    def deviate(self, u: Array) -> Array:
        """t of numbers that are even on (0, 1)."""
        if self.even:
            return u - 1.0 if self.one_sided else 2.0 * u - 1.0
        below = ndtr(-3.0)
        u = u / 2 if self.one_sided else u
        return np.asarray(ndtri(below + u * (1.0 - 2.0 * below))) / 3.0
