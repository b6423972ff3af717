"""Strings swung side by side: of one string for what is known of its metal, and of many strings at once.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from .held import held_together, kinds_of
from .loop import SwungString
from .march import March
from .travel import travel


def swing_together(strings: Iterable[SwungString], beat: Callable[[], None] = lambda: None) -> None:
    """Put strings in their places, shake them and swing them lightly: each comes to what it comes to alone, in less
    time.

    Parameters
    ----------
    strings : iterable of SwungString
        Any. One that can go with no other goes alone, when it is asked.
    beat : callable
        Called at every stop.
    """
    groups: dict[tuple[object, ...], list[SwungString]] = {}
    for string in strings:
        alike = string.lengths.size, string.steps.settled, kinds_of(string.layers)
        groups.setdefault(alike, []).append(string)
    for group in groups.values():
        if len(group) > 1:
            _swing(group, beat)


def _swing(strings: list[SwungString], beat: Callable[[], None]) -> None:
    trips = sorted(((string, *string.light_trip()) for string in strings), key=lambda trip: -len(trip[1] + trip[2]))
    layers = held_together([string.layers for string, _, _ in trips])
    if layers is None:
        return
    march = March(layers, np.stack([string.lengths for string, _, _ in trips]), strings[0].steps.settled, len(trips))
    gone = travel(march, [to + round_ for _, to, round_ in trips], beat)
    for (string, to, _), been in zip(trips, gone, strict=True):
        string.has_been(been[len(to) - 1], been)
