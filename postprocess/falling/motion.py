r"""How the magnet moves: let go, let go in a tube, by hand through a coil, or by hand onto a core and back.

z is the height of its middle, v = dz/dt its velocity, negative on the way down::

    let go             z = z₀ − g t²/2
    in a tube          m dv/dt = −m g − k(z) v,   k from :mod:`stringflux.solver.falling.tube`
    by hand, through   z = z₀ − s t
    onto a core        z = z₁ + (z₀ − z₁)(1 + cos(2π t/T))/2,   T = π (z₀ − z₁)/s, so that the greatest speed is s

An open coil carries no current and does not hold the magnet; what the air does is left out.

References
----------
Derived here. g: standard gravity, ISO 80000-3 (memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.demonstrations.falling import FallingMagnet
from stringflux.geometry.errors import SolveError
from stringflux.solver.falling.tube import TubeBrake

GRAVITY = 9.80665  # m/s²
_LONGEST = 600.0  # s: no fall through a tube takes ten minutes
_FEW, _MANY = 801, 8001


@dataclass(frozen=True, kw_only=True, eq=False)
class MagnetMotion:
    """The magnet's middle over time.

    Attributes
    ----------
    t, z, v : arrays (n,)
        Evenly spaced in time, s, m, m/s; z up.
    """

    t: Array
    z: Array
    v: Array


def let_go(start: float, end: float, step: float) -> MagnetMotion:
    """From rest.

    Parameters
    ----------
    start, end : float
        Heights, m.
    step : float
        Length that no step is to be longer than, near the coil, m.
    """
    last = math.sqrt(2 * (start - end) / GRAVITY)
    t = _times(last, math.sqrt(2 * GRAVITY * start), step)
    return MagnetMotion(t=t, z=start - GRAVITY * t * t / 2, v=-GRAVITY * t)


def steady(start: float, end: float, speed: float, step: float) -> MagnetMotion:
    """By hand at one speed."""
    t = _times((start - end) / speed, speed, step)
    return MagnetMotion(t=t, z=start - speed * t, v=np.full(t.size, -speed))


def stroke(start: float, nearest: float, speed: float, step: float) -> MagnetMotion:
    """Down and back, softly; `speed` is the greatest."""
    depth = start - nearest
    last = math.pi * depth / speed
    t = _times(last, speed, step)
    phase = 2 * np.pi * t / last
    return MagnetMotion(t=t, z=nearest + depth * (1 + np.cos(phase)) / 2, v=-speed * np.sin(phase))


def braked(start: float, end: float, mass: float, brake: Callable[[Array], Array], step: float) -> MagnetMotion:
    """From rest, with a brake k(z) in N·s/m.

    Raises
    ------
    SolveError
        If it does not come down.
    """
    from scipy.integrate import solve_ivp

    def slope(_t: float, state: Array) -> list[float]:
        z, v = state
        return [v, -GRAVITY - float(brake(np.array([z]))[0]) / mass * v]

    def down(_t: float, state: Array) -> float:
        return float(state[0] - end)

    down.terminal = True  # type: ignore[attr-defined]  # how solve_ivp asks for it
    found = solve_ivp(slope, (0.0, _LONGEST), [start, 0.0], method="LSODA", events=down, dense_output=True,
                      rtol=1e-8, atol=1e-10)
    events, dense = found.t_events, found.sol
    if not events or not events[0].size or dense is None:
        raise SolveError("the magnet does not come down the tube in ten minutes; shorten the tube, or take one "
                         "with a thinner wall")
    last = float(events[0][0])
    t = _times(last, float(np.max(np.abs(found.y[1]))), step)
    z, v = dense(t)
    return MagnetMotion(t=t, z=z, v=v)


def moved(case: FallingMagnet, brake: TubeBrake | None = None) -> MagnetMotion:
    """As the case says; with a tube, its brake is wanted."""
    drop, step = case.drop, finest(case)
    if case.tube is not None and brake is not None and case.magnet.mass is not None:
        top = case.tube.upper
        bottom = top - case.tube.length
        return braked(drop.start, case.last, case.magnet.mass, lambda z: brake.at(z, bottom, top), step)
    if drop.speed is not None:
        return by_hand(case, drop.speed)
    return let_go(drop.start, case.last, step)


def by_hand(case: FallingMagnet, speed: float) -> MagnetMotion:
    """At a speed, m/s: through the coil, or onto the core and back."""
    if case.core is not None:
        return stroke(case.drop.start, case.nearest, speed, finest(case))
    return steady(case.drop.start, case.last, speed, finest(case))


def finest(case: FallingMagnet) -> float:
    """Steps of the motion near the coil, m: a thirtieth of the shortest length that λ has."""
    return min(case.coil.inner_diameter / 2, case.magnet.length) / 30


def _times(last: float, speed: float, step: float) -> Array:
    count = int(np.clip(math.ceil(last * speed / step), _FEW, _MANY))
    return np.linspace(0.0, last, count | 1)  # an odd number: a stroke's turning point is one of them
