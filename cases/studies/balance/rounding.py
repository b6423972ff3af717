"""A setting rounded to what can be set, inside the limits, and as even as such settings can be."""

from __future__ import annotations

import math

import numpy as np

from stringflux.geometry.arrays import Array

from .levels import Measured
from .model import Model
from .problem import Unknown
from .search import LEAST_MOVEMENT, MM, deviation, hard_limits, pull_limits

_OUTSIDE = 1e4  # dB² per mm over a limit of pull, which may be out of reach; a thousand times as much for others
_SAME = 1e-8


def rounded_setting(model: Model, x: Array, before: Measured) -> Array:
    """Movements (k,) in m after which every reading is a multiple of 0.05 mm, or the old one; of screws whole eighths
    of a turn.

    From the nearest ones it goes on, one step of one reading at a time, as long as that is better.
    """
    kinds = [(hard_limits(model.problem), 1e3 * _OUTSIDE), (pull_limits(model), _OUTSIDE)]
    rows = np.array([limit.row for limits, _ in kinds for limit in limits])
    most = np.array([limit.most for limits, _ in kinds for limit in limits])
    dear = np.array([cost for limits, cost in kinds for _ in limits])

    def cost(at: Array) -> float:
        e = deviation(model.problem, model.levels(at), before.level)
        over = np.maximum(rows @ at - most - 1e-9, 0.0)
        return float(e @ e + LEAST_MOVEMENT**2 * (at @ at) / MM**2) / 2 + float(dear @ over) / MM

    unknowns = model.problem.unknowns
    moving = {u.kind for u, v in zip(unknowns, x, strict=True) if v != 0.0}
    # where only sides or only poles move, the others stay
    choices = [_choices(u, v) if u.kind in moving else [0.0] for u, v in zip(unknowns, x, strict=True)]
    at = np.array([min(c, key=lambda m: abs(m - v)) for c, v in zip(choices, x, strict=True)])
    best, better = cost(at), True
    while better:
        better = False
        for j, values in enumerate(choices):
            for value in values:
                trial = at.copy()
                trial[j] = value
                found = cost(trial)
                if found < best - _SAME:
                    at, best, better = trial, found, True
    return at


def _choices(unknown: Unknown, movement: float) -> list[float]:
    """Movements to multiples of the step about a wanted one; where nothing moves, it may stay as it is."""
    step = unknown.step
    start, sign = (unknown.start, unknown.sign) if unknown.screw is None else (0.0, 1)  # a screw from where it stands
    middle = math.floor((start + sign * movement) / step)
    out = [sign * (step * n - start) for n in range(middle - 2, middle + 4)]
    return [0.0, *out] if abs(movement) < step / 2 else out
