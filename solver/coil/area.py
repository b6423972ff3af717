"""Area that a coil's turns enclose."""

from __future__ import annotations

import numpy as np

from stringflux.geometry.shapes.row import Racetrack


def mean_area(coil: Racetrack) -> float:
    """Area inside a turn, averaged over the window, m²: π (a² + a w + w²/3) + (2a + w) ℓ (exact)."""
    a, w, ell = coil.inner_radius, coil.build, coil.straight
    return float(np.pi * (a * a + a * w + w * w / 3) + (2 * a + w) * ell)
