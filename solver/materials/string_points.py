r"""The static curve of a string's metal through measured points (H, M).

Between the points ln M goes over ln H as a cubic whose slopes are those of Fritsch and Carlson, so M never falls::

    H ≤ H₁      M = H (χ₀ + (χ₁ − χ₀)(H/H₁)²)            χ₀ from the first two points: χ is even in H
    H ≥ Hₙ      H/M rises from Hₙ/Mₙ, and its slope from that of the last point to 1/Ms (:mod:`._continuation`)

χ = M/H. With the slope p = d ln M/d ln H > 0 of the last point H/M − H d(H/M)/dH = p Hₙ/Mₙ there, and > 0 beyond: M
rises to Ms and never reaches it.

References
----------
Slopes: F. N. Fritsch, R. E. Carlson, *SIAM J. Numer. Anal.* 17 (1980) 238 (memory), as scipy has them. H/M as a
straight line of H: A. E. Kennelly, *Trans. AIEE* 8 (1891) 485 (memory). The rest: derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from stringflux.geometry.arrays import Array

from ._continuation import go_on

if TYPE_CHECKING:
    from scipy.interpolate import PPoly

_BEND = 1.4  # χ₀ is at most this much of χ₁, or so much less: the first stretch stays monotone (3/2 is its limit)


@dataclass(frozen=True, kw_only=True)
class StringPoints:
    """Points of a static curve.

    Attributes
    ----------
    fields, magnetisations : tuples of float (n,)
        H inside the wire and M, A/m, both rising, without the origin; n ≥ 2.
    saturation : float
        Ms, A/m, above the last M.

    Examples
    --------
    >>> points = StringPoints(fields=(1e3, 3e3, 1e4), magnetisations=(4e5, 7.5e5, 1e6), saturation=1.2e6)
    >>> ratio, slope = points.by_modulus(np.array([3e3]))
    >>> round(float(ratio[0]))
    250
    """

    fields: tuple[float, ...]
    magnetisations: tuple[float, ...]
    saturation: float

    @classmethod
    def of(cls, points: Sequence[tuple[float, float]], saturation: float) -> StringPoints:
        """Of pairs (H, M)."""
        return cls(fields=tuple(h for h, _ in points), magnetisations=tuple(m for _, m in points),
                   saturation=saturation)

    @cached_property
    def initial(self) -> float:
        """χ₀."""
        (h1, h2), (m1, m2) = self.fields[:2], self.magnetisations[:2]
        first = m1 / h1
        found = first - (m2 / h2 - first) * h1**2 / (h2**2 - h1**2)
        return min(max(found, first / _BEND), first * _BEND)

    @cached_property
    def _logs(self) -> PPoly:
        """ln M over ln H."""
        from scipy.interpolate import CubicHermiteSpline, PchipInterpolator, PPoly

        x, y = np.log(self.fields), np.log(self.magnetisations)
        slopes = PchipInterpolator(x, y).derivative()(x)
        secant = (y[1] - y[0]) / (x[1] - x[0])
        slopes[0] = min(3.0 - 2.0 * self.initial * self.fields[0] / self.magnetisations[0], 3.0 * secant)
        cubic = CubicHermiteSpline(x, y, slopes)
        rises = np.pad(cubic.derivative().c, ((1, 0), (0, 0)))
        return PPoly(np.stack([cubic.c, rises], axis=-1), cubic.x)

    @cached_property
    def _end(self) -> tuple[float, float, float]:
        """H/M of the last point, its slope, and the width over which the slope goes over to 1/Ms."""
        h, r, far = self.fields[-1], self.fields[-1] / self.magnetisations[-1], 1.0 / self.saturation
        p = max(float(self._logs(np.log(h))[1]), 1e-6)
        slope = (1.0 - p) * r / h
        room = (r - h * far) / (far - slope) if slope < far else np.inf
        return r, slope, min(h, 0.5 * room)

    def by_modulus(self, h: Array) -> tuple[Array, Array]:
        """M/H and dM/dH at moduli H ≥ 0 (…), A/m."""
        shape, h = h.shape, h.ravel()
        low, high = self.fields[0], self.fields[-1]
        inside = np.clip(h, low, high)
        logs = self._logs(np.log(inside))
        chi = np.exp(logs[..., 0]) / inside
        slope = chi * logs[..., 1]
        weak, strong = h < low, h > high
        if np.any(weak):
            first, bend = self.initial, self.magnetisations[0] / low - self.initial
            square = np.square(h[weak] / low)
            chi[weak], slope[weak] = first + bend * square, first + 3.0 * bend * square
        if np.any(strong):
            r, steep, width = self._end
            rise, per = go_on(h[strong] - high, steep, 1.0 / self.saturation, width)
            whole = r + rise
            chi[strong], slope[strong] = 1.0 / whole, (whole - h[strong] * per) / whole**2
        return chi.reshape(shape), slope.reshape(shape)
