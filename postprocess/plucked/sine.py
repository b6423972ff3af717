"""A string that is driven by a sine, as a shaker or a magnet beside it does, in place of a pluck."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import InputError


@dataclass(frozen=True, kw_only=True)
class Sine:
    """A sine, the string moved as a whole over the pickup: it begins at rest, going up or towards the treble side.

    Attributes
    ----------
    amplitude : float
        m.
    frequency : float or None
        Hz; None: every string at its own pitch.
    angle : float
        Direction, rad: 0 across the strings, π/2 off the pickup.

    Raises
    ------
    InputError
        For an amplitude or a frequency that is not above 0.
    """

    amplitude: float = 0.5e-3
    frequency: float | None = None
    angle: float = math.pi / 2

    def __post_init__(self) -> None:
        for name, value in (("amplitude", self.amplitude), ("frequency", self.frequency)):
            if value is not None and not 0 < value < math.inf:
                raise InputError(f"{name}: received {value:g}; write one above 0")

    def motion(self, pitch: float, samples: int, rate: float) -> tuple[Array, Array, Array, Array]:
        """y, ẏ, z and ż (samples,) at t = i/rate, of a string with that pitch, Hz."""
        w = 2 * math.pi * (self.frequency or pitch)
        t = np.arange(samples) / rate
        u, v = self.amplitude * np.sin(w * t), self.amplitude * w * np.cos(w * t)
        c, s = math.cos(self.angle), math.sin(self.angle)
        return c * u, c * v, s * u, s * v
