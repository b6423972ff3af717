"""How turns lie in a winding window, and how long their wire is.

The mean turn of a race-track at radius r (of its round ends) is ℓ(r) = 2 s + 2 π r, s the straight side.
With turns of overall diameter d from the inner radius a outwards:

layered, square       rows over rows: pitch of the layers d, ⌊h/d⌋ turns in each
layered, hexagonal    each layer in the grooves of the last: pitch (√3/2) d, layers of ⌊h/d⌋ turns in turn
                      with layers of as many, or one less where half a turn more does not fit
scattered             evenly over all that the winding takes, as the field computation has it: every radius alike,
                      so the mean turn is that of the middle, exactly. It takes the whole window where the case
                      does not say otherwise, else the window's inner part: with `fill` given N (π/4) d²/(fill h) of
                      its thickness, or what was measured; where the thickness changes along the height too

What fits: layered windings are counted; the scattered one is as full as the case says, else by an assumption: 65 %
of the window taken by circles of diameter d (55–75 % in practice: the trade's experience, no source). Only thick wire
is ever laid in layers that stay in order; wire as thin as here lies scattered.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.case.wire import SCATTERED_FILL
from stringflux.geometry.shapes.row import Racetrack

_SLACK = 1e-9  # of a turn: a window of exactly ten diameters holds ten


@dataclass(frozen=True, kw_only=True)
class Packing:
    """One way of laying the turns.

    Attributes
    ----------
    name : str
        "layered, square", "layered, hexagonal" or "scattered".
    turns_per_layer : int
        Of a full layer; 0 for a scattered winding.
    layers : int
        Layers that the turns take; 0 for a scattered winding.
    most_turns : int
        The largest number of turns that fits.
    thickness : float
        What the turns take of the window's radial thickness, m.
    length : float
        Wire, m.
    """

    name: str
    turns_per_layer: int
    layers: int
    most_turns: int
    thickness: float
    length: float


def turn_length(coil: Racetrack, radius: float) -> float:
    """Length of one turn whose round ends have this radius, m."""
    return 2 * coil.straight + 2 * math.pi * radius


def scattered(coil: Racetrack, overall: float, turns: float, *, window: float | None = None,
              fill: float = SCATTERED_FILL) -> Packing:
    """Turns of diameter `overall` spread evenly over the winding, at `fill` in a window of that thickness in m."""
    thickness = coil.build if window is None else window
    most = fill * thickness * (coil.top - coil.bottom) / (math.pi / 4 * overall**2)
    if coil.builds:  # it grows alike till it is as thick as its window somewhere
        most = turns * thickness / coil.build
    return Packing(name="scattered", turns_per_layer=0, layers=0, most_turns=math.floor(most + _SLACK),
                   thickness=coil.build, length=turns * turn_length(coil, coil.mean_radius))


def layered(coil: Racetrack, overall: float, turns: float, *, hexagonal: bool) -> Packing:
    """Turns of diameter `overall` laid in layers; what does not fit the window is laid on over its edge."""
    height = coil.top - coil.bottom
    full = max(math.floor(height / overall + _SLACK), 1)
    pitch = overall * (math.sqrt(3) / 2 if hexagonal else 1.0)
    between = full if not hexagonal or height / overall - full >= 0.5 - _SLACK else max(full - 1, 1)
    fit = 0 if coil.build < overall * (1 - _SLACK) else 1 + math.floor((coil.build - overall) / pitch + _SLACK)
    layers = _layers(turns, full, between)
    in_layer = np.where(np.arange(layers) % 2 == 0, full, between).astype(float)
    in_layer[-1] = turns - in_layer[:-1].sum()
    radius = coil.inner_radius + overall / 2 + pitch * np.arange(layers)
    return Packing(name="layered, hexagonal" if hexagonal else "layered, square", turns_per_layer=full,
                   layers=layers, most_turns=(fit + 1) // 2 * full + fit // 2 * between,
                   thickness=overall + pitch * (layers - 1),
                   length=float(in_layer @ (2 * coil.straight + 2 * math.pi * radius)))


def _layers(turns: float, full: int, between: int) -> int:
    pairs = math.floor(turns / (full + between))
    rest = turns - pairs * (full + between)
    return 2 * pairs + (0 if rest <= 0 else 1 if rest <= full else 2)
