"""How a curve goes on beyond the last point that is known of it.

The slope goes over from the one at the end to the one far away, within a stated width::

    dh/db = s∞ + (s − s∞) exp(−d/w)      h = s∞ d + (s − s∞) w (1 − exp(−d/w))

d the distance from the end, s the slope there, s∞ the slope far away. Both positive: monotone and C¹.

References
----------
Derived here.
"""

from __future__ import annotations

import numpy as np

from stringflux.geometry.arrays import Array


def go_on(d: Array, slope: float, far_slope: float, width: float) -> tuple[Array, Array]:
    """Rise and slope at the distance `d` ≥ 0 beyond the end of a curve."""
    fade = np.exp(-d / width)
    rise = far_slope * d + (slope - far_slope) * width * (1.0 - fade)
    return rise, far_slope + (slope - far_slope) * fade
