"""Strings with memory on trips from stop to stop, side by side: one way takes little more time for many than for one.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from stringflux.geometry.arrays import Array

from .march import March

Stop = tuple[Array, Array, Array]
"""What acts at a place: fields for :meth:`.march.March.go`, of one string."""
Been = tuple[March, int]
"""Strings as they were at a place, and which of them it is."""


def travel(march: March, trips: Sequence[list[Stop]], beat: Callable[[], None] = lambda: None) -> list[list[Been]]:
    """Strings from stop to stop, the longest trips first; `beat` is called at each, and what it raises ends all."""
    been: list[list[Been]] = [[] for _ in trips]
    for k in range(len(trips[0])):
        going = [stops[k] for stops in trips if len(stops) > k]
        beat()
        march = march.first(len(going))
        march.go(*(np.stack(part) for part in zip(*going, strict=True)))
        for i in range(len(going)):
            been[i].append((march, i))
    return been
