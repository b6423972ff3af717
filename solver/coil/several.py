"""Circuit figures of several coils together from those of one turn of each: what solutions of bodies have in common.

With the signed turns w as the coils are connected, b = Σ w_k b_k, L = wᵀ L₁ w, A = Σ w_k A_k.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Self

import numpy as np

from stringflux.geometry.arrays import Array


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
