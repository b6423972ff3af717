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

from collections.abc import Sequence
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
        return np.asarray(fields((self,), points)[0])


def fields(lines: Sequence[MagnetisedLine], points: Array) -> Array:
    """B (k, 3, n) in T at points (3, n), m, of lines with the same shape and nodes; nan inside the string."""
    shape = lines[0].shape
    c, s = 1 / np.hypot(1, shape.slope), shape.slope / np.hypot(1, shape.slope)
    x, y, z = points[0], points[1] - shape.y, points[2] - shape.axis_height
    own = np.stack([c * x + s * z, y, c * z - s * x])  # along, across, normal
    at_once = max(1, _BLOCK // lines[0].x.size)
    b = np.concatenate([_own(lines, own[:, i:i + at_once]) for i in range(0, own.shape[1], at_once)], axis=2)
    b[:, :, own[1] ** 2 + own[2] ** 2 < shape.outer_radius**2] = np.nan
    return np.asarray(np.stack([c * b[:, 0] - s * b[:, 2], b[:, 1], s * b[:, 0] + c * b[:, 2]], axis=1))


def _own(lines: Sequence[MagnetisedLine], points: Array) -> Array:
    node = lines[0].x * np.hypot(1, lines[0].shape.slope)
    length = np.diff(node)
    charge = np.stack([-np.diff(line.along) / length for line in lines], axis=1)  # (pieces, k)
    dipole = np.stack([(line.across[:, 1:] + line.across[:, :-1]) / 2 for line in lines], axis=2)
    t = node - points[0][:, None]
    square = (points[1] ** 2 + points[2] ** 2 + _TINY)[:, None]
    inverse = 1 / np.sqrt(square + t * t)
    cube = inverse**3
    along = np.diff(inverse, axis=1)  # ∫ −t/R³ dt
    spread = np.diff(t * inverse, axis=1) / square  # ∫ dt/R³
    across = points[1:, :, None]
    b = np.empty((3, points.shape[1], len(lines)))
    b[0] = along @ charge
    b[1:] = (spread @ charge) * across
    if np.any(dipole):
        # p·ρ g(t), g = t/(ρ² R): its slopes are p g + p·ρ ρ ∂g/∂ρ/ρ across, −p·ρ/R³ along
        bent = (2 * spread + np.diff(t * cube, axis=1)) / square
        ends = np.diff(cube, axis=1)
        for k in (0, 1):
            p, at = dipole[k], across[k]
            b[1 + k] -= spread @ p
            b[1:] += (bent @ p) * at * across
            b[0] += (ends @ p) * at
    return np.asarray(MU0 / (4 * np.pi) * np.moveaxis(b, 2, 0))
