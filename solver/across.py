"""What strings further across do to the modes of an answer whose F holds at any y.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

from .seam import Answer

_STEP = 20e-6  # m, for the slope of a potential along the strings


@dataclass(frozen=True)
class AcrossByModes:
    """S F' of an answer G = F S F'ᵀ."""

    of: Answer
    between: bool = False
    """Over round poles it is up to 1e-4 of S."""

    def driven(self, x: Array, y: Array, z: Array, charge: Array, dipole: Array, mirrored: bool) -> Array:
        """As of :class:`.seam.Across`."""
        excited = self.of.factor(x, y, z, mirrored).T @ charge
        if np.any(dipole):
            for k, slope in enumerate(slopes(self.of, x, y, z, mirrored)):
                excited += slope.T @ dipole[..., k]
        return np.asarray(self.of.matrix(mirrored) @ excited)


def slopes(of: Answer, x: Array, y: Array, z: Array, mirrored: bool = False) -> tuple[Array, Array, Array]:
    """∂F/∂x, ∂F/∂y and ∂F/∂z (n, k)."""
    ahead, behind = (of.factor(x + d, y, z, mirrored) for d in (_STEP, -_STEP))
    return (ahead - behind) / (2 * _STEP), *of.gradient(x, y, z, mirrored)
