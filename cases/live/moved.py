"""What the page needs to go on by itself from an answer: which designs are alike but for what it can move by itself.

A string's place, the turns that fill their window and what hangs on the coil change no field. :func:`unmoved` is the
same for designs that differ in nothing else; the page takes S, λ, L and R of another such design for its own, with
the string moved over the map, the turns scaled and the load computed anew.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import StringfluxError

if TYPE_CHECKING:
    from ..pickup import Pickup  # the server needs nothing that computes, and is ready sooner without

SWINGS = (0.1e-3, 0.25e-3, 0.5e-3, 1e-3)
"""Of the loops that the page is sent, m; the page goes between them."""
ASIDE, OVER = 1.2e-3, 1.5e-3
"""How far from its place, across and up or down, and half as far, a string's light swing is sent as well, m."""
NEAREST = 0.45e-3
"""Least gap of a string that is put lower for it, m: the swing has its room."""
_PLACES = ("gap", "height", "fretted_gap", "position")
_COMMON = (*_PLACES[:3], "spacing", "fingerboard_radius", "action", "last_fret")


def unmoved(case: Case) -> str:
    """A short text that is the same for cases that differ in nothing that a field is made of."""
    said = case.model_dump(mode="json", exclude={"title", "note", "load"})
    for string in said["string"]:
        _without(string, _PLACES)
    _without(said["strings"], _COMMON)
    for coil in [said["coil"], *(other.get("coil") or {} for other in said.get("second_coil") or ())]:
        if coil.get("fill") is None and coil.get("wound_build") is None and not coil.get("wound_builds"):
            _without(coil, ("turns",))  # else they take other space
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()[:16]


def _without(table: dict[str, Any], keys: tuple[str, ...]) -> None:
    for key in keys:
        table.pop(key, None)


def swings(pickup: Pickup, string: int) -> dict[str, Any]:
    """λ round the loops of a string at several amplitudes, as far as it has room; and S of light swings about it."""
    loops = []
    for amplitude in SWINGS:
        try:
            loops.append(pickup.loop(string, amplitude))
        except StringfluxError:
            if not loops:
                raise
            break
    gap = pickup.prediction().strings[string - 1].gap
    down = min(OVER, max(gap - NEAREST, 0.0))
    places = [(0.0, 0.0), (0.0, -down), (0.0, OVER), (0.0, -down / 2), (0.0, OVER / 2), (-ASIDE, 0.0), (ASIDE, 0.0)]
    light = [loops[0].sensitivity, *(pickup.loop(string, SWINGS[0], moved=place).sensitivity for place in places[1:])]
    return {"loops": [{"amplitude": one.amplitude, "linkage": one.linkage, "lag": one.lag,
                       "sensitivity": one.sensitivity, "heat": one.heat} for one in loops],
            "places": np.array(places), "sensitivity": np.array(light)}


def sounds(pickup: Pickup, string: int, progress: Callable[[str, float], None], *, loaded: bool) -> dict[str, Any]:
    """A string plucked as every other: its samples, V."""
    from stringflux.postprocess.plucked.modes import PLUCK

    found = pickup.played(string, PLUCK, loaded=loaded, progress=progress)
    return {"rate": found.signal.rate, "loaded": loaded, "string": string, "voltage": found.signal.voltage}
