"""Inductances between coils in air."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import Racetrack

from . import air as coil_air


def mutual_inductance(a: Racetrack, b: Racetrack) -> float:
    """Mutual inductance in air, H, of the turns and the senses that the coils have."""
    return coil_air.mutual(a, b)


def inductance_matrix_air(coils: Sequence[Racetrack]) -> Array:
    """Self- and mutual inductances in air (k, k), H."""
    out = np.empty((len(coils), len(coils)))
    for i, a in enumerate(coils):
        out[i, i] = coil_air.inductance(a)
        for j in range(i):
            out[i, j] = out[j, i] = mutual_inductance(a, coils[j])
    return out
