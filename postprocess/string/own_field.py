r"""The field of a magnetised string outside it: what it adds to that of the magnets.

The axial moment m(s) per length, piecewise linear along the axis, is a line of charge, −dm/ds on every piece; the
moment p across, taken as constant on a piece, a line of dipoles. With ρ from the axis and t to the ends of a piece::

    φ = 1/4π Σ [ −Δm/ℓ ln(t + R) + p·ρ t/(ρ² R) ] from t₁ to t₂        R² = ρ² + t²        B = −μ0 ∇φ

The charge sits on the surface, a tube of radius a; outside, a tube makes the field of its axis up to (a/d)² where m
changes over a length d. Across, a cylinder uniformly magnetised is a line of dipoles exactly. What the poles answer
to the string is no part of it.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.constants import MU0

_BLOCK = 200_000  # numbers held at once
_TINY = 1e-12  # m²


@dataclass(frozen=True, kw_only=True, eq=False)
class MagnetisedLine:
    """A straight string with its moments.

    Attributes
    ----------
    shape : StringShape
    x : array (n,)
        Nodes along the strings, m.
    along : array (n,)
        Axial moment per length, A·m.
    across : array (2, n)
        Moment per length across the string, y and normal, A·m.
    """

    shape: StringShape
    x: Array
    along: Array
    across: Array

    def field(self, points: Array) -> Array:
        """B (3, n) in T at points (3, n), m; nan inside the string."""
        slope = self.shape.slope
        c, s = 1 / np.hypot(1, slope), slope / np.hypot(1, slope)
        x, y, z = points[0], points[1] - self.shape.y, points[2] - self.shape.axis_height
        own = np.stack([c * x + s * z, y, c * z - s * x])  # along, across, normal
        b = np.concatenate([self._own(own[:, i:i + self._at_once]) for i in range(0, own.shape[1], self._at_once)],
                           axis=1)
        b[:, own[1] ** 2 + own[2] ** 2 < self.shape.outer_radius**2] = np.nan
        return np.stack([c * b[0] - s * b[2], b[1], s * b[0] + c * b[2]])

    @property
    def _at_once(self) -> int:
        return max(1, _BLOCK // self.x.size)

    def _own(self, points: Array) -> Array:
        node = self.x * np.hypot(1, self.shape.slope)
        length = np.diff(node)
        charge = -np.diff(self.along) / length
        dipole = (self.across[:, 1:] + self.across[:, :-1]) / 2
        t = node - points[0][:, None]
        square = (points[1] ** 2 + points[2] ** 2 + _TINY)[:, None]
        inverse = 1 / np.sqrt(square + t * t)
        cube = inverse**3
        along = np.diff(inverse, axis=1)  # ∫ −t/R³ dt
        spread = np.diff(t * inverse, axis=1) / square  # ∫ dt/R³
        b = np.empty((3, points.shape[1]))
        b[0] = along @ charge
        radial = spread @ charge
        b[1], b[2] = radial * points[1], radial * points[2]
        if np.any(dipole):
            # p·ρ g(t), g = t/(ρ² R): its slopes are p g + p·ρ ρ ∂g/∂ρ/ρ across, −p·ρ/R³ along
            bent = (2 * spread + np.diff(t * cube, axis=1)) / square
            ends = np.diff(cube, axis=1)
            for k in (0, 1):
                p, at = dipole[k], points[1 + k]
                b[1 + k] -= spread @ p
                weighed = (bent @ p) * at
                b[1] += weighed * points[1]
                b[2] += weighed * points[2]
                b[0] += (ends @ p) * at
        return MU0 / (4 * np.pi) * b
