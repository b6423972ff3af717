r"""What magnetised bars do to each other beyond their section's logarithm: every way with every function of y.

    −∫ w·H[w'] = Σ q_n q'_m K(d_nm)/4π + end faces,     K(d) = Σ_r k_r T_r(u),  u ~ asinh(d/d₀)

with charges q on lines (:mod:`.bar_charges`) and K of two functions of y (:mod:`.along_y`), expanded in Chebyshev
polynomials, so that lines and functions come apart: Σ_r (Σ_nm q_n q'_m T_r(u_nm)) k_r.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.polynomial.chebyshev import chebvander

from stringflux.geometry.arrays import Array

from ..interpolation import chebyshev
from .along_y import Along, couplings, facing

_TERMS = 24  # of the expansion over d
_NEAR = 0.3e-3  # d₀, metres
_FACE = 2.9732  # mean of 1/R over a square of side 1, both ends in it: 4 asinh 1 + 4 (1 − √2)/3


@dataclass(frozen=True, kw_only=True, eq=False)
class Channel:
    """Ways of one part, across or along, times functions of y.

    `ways` (n, i) are charges of the unknowns and `lines` (lines, i) the same on lines; `shape` says how the charge
    goes along y.
    """

    part: int
    ways: Array
    lines: Array
    shape: Along

    @property
    def size(self) -> int:
        return int(self.ways.shape[1]) * self.shape.count


@dataclass(frozen=True, kw_only=True, eq=False)
class Distances:
    """Everything that depends on how far lines are apart."""

    places: Array
    first: tuple[int, ...]
    area: Array
    image: int
    scale: float

    @cached_property
    def _both(self) -> list[tuple[float, Array]]:
        """Distances to the lines, and to their images with the sign they count with."""
        x, z = self.places
        out = [(1.0, np.hypot(x[:, None] - x, z[:, None] - z))]
        if self.image:
            out.append((float(self.image), np.hypot(x[:, None] + x, z[:, None] - z)))
        return out

    @cached_property
    def _reach(self) -> float:
        return float(np.arcsinh(max(d.max() for _, d in self._both) / _NEAR)) * 1.0001

    @cached_property
    def _polynomials(self) -> Array:
        """Σ ± T_r(d) (lines, lines, terms)."""
        return np.asarray(sum(sign * chebvander(2 * np.arcsinh(d / _NEAR) / self._reach - 1, _TERMS - 1)
                              for sign, d in self._both))

    @cached_property
    def _at(self) -> tuple[Array, Array]:
        """The distances of the table, and what makes coefficients of values there."""
        u = chebyshev(-1.0, 1.0, _TERMS)
        inverse = np.asarray(np.linalg.inv(chebvander(u, _TERMS - 1)), dtype=float)
        return _NEAR * np.sinh((u + 1) / 2 * self._reach), inverse

    def block(self, a: Channel, b: Channel) -> Array:
        """−∫ w·H[w'] but for the section's logarithm, (a.size, b.size)."""
        rows, columns = (slice(self.first[c.part], self.first[c.part + 1]) for c in (a, b))
        d, inverse = self._at
        table = np.tensordot(inverse, couplings(a.shape, b.shape, d, self.scale), 1)  # (terms, functions, functions)
        ways = np.einsum("nmr,ni,mj->rij", self._polynomials[rows, columns], a.lines, b.lines, optimize=True)
        out = np.einsum("rij,rab->iajb", ways, table, optimize=True)
        if not (np.any(a.shape.jumps[0]) and np.any(b.shape.jumps[0])):
            return np.asarray(out.reshape(a.size, b.size)) / (4 * np.pi)
        for sign, distance in self._both:
            area = self.area[rows]
            here = np.diag(_FACE / np.sqrt(area)) if a.part == b.part else np.zeros(distance[rows, columns].shape)
            kernel = facing(a.shape, b.shape, distance[rows, columns], here)
            ends = (sign * a.lines.T) @ kernel @ b.lines
            out += np.einsum("ij,a,b->iajb", ends, a.shape.jumps[0][:, -1], b.shape.jumps[0][:, -1])
        return np.asarray(out.reshape(a.size, b.size)) / (4 * np.pi)


def products(ways: Array, functions: Array) -> Array:
    """(i a, j b) of ways (i, j) and functions (a, b)."""
    return np.asarray(np.einsum("ij,ab->iajb", ways, functions)).reshape(
        ways.shape[0] * functions.shape[0], ways.shape[1] * functions.shape[1])
