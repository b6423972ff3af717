"""Several coils together: in air, and the circuit figures that solutions of bodies have of one turn of each.

With the signed turns w as the coils are connected, b = Σ w_k b_k, L = wᵀ L₁ w, A = Σ w_k A_k.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Self

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import Racetrack

from .air import inductance, mutual


def inductance_matrix_air(coils: Sequence[Racetrack]) -> Array:
    """Self- and mutual inductances in air (k, k), H."""
    out = np.empty((len(coils), len(coils)))
    for i, a in enumerate(coils):
        out[i, i] = inductance(a)
        for j in range(i):
            out[i, j] = out[j, i] = mutual(a, coils[j])
    return out


class CoilsTogether:
    """A base of solutions with a field of `weights` (coils,), `matrix_air` and `matrix` (coils, coils) in H per turn²
    and `moments` (coils, 3) in m²."""

    field: Any
    matrix_air: Array
    matrix: Array
    moments: Array

    @property
    def inductance_air(self) -> float:
        """Of the coils as their weights say, without the bodies, H."""
        return float(self.field.weights @ self.matrix_air @ self.field.weights)

    @property
    def inductance(self) -> float:
        """The same with the bodies, H."""
        return float(self.field.weights @ self.matrix @ self.field.weights)

    @property
    def area(self) -> Array:
        """Effective area for uniform fields, m² (3,)."""
        return np.asarray(self.field.weights @ self.moments)

    def connected(self, weights: Array) -> Self:
        """The same with the coils connected another way or with other turns: nothing is solved again."""
        return replace(self, field=self.field.connected(weights))  # type: ignore[type-var]
