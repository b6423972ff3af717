r"""Charges spread along bars of finite length: functions of y, linear by pieces, and what two of them make of 1/R.

A function that is linear between places y_j and nothing beyond the last is a sum of jumps and kinks,

    A(y) = Σ_j c₀_j δ(y − y_j) + c₁_j δ⁻¹(y − y_j) + c₂_j δ⁻²(y − y_j)

with δ⁻¹ the step and δ⁻² the ramp; δ itself is a charge on an end face. With G_n the n-th integral of
1/R, R² = d² + s², each the derivative of the next and even or odd in s as n is,

    G₀ = 1/R     G₁ = asinh(s/d)     G₂ = s G₁ − R     G₃ = (s²/2 − d²/4) G₁ − ¾ s R
    G₄ = (s³/6 − d² s/4) G₁ + (5/12) d² R − (11/36) R³

two lines of charge at a distance d have, by parts and without a quadrature,

    ∫∫ A(y) B(y')/R dy dy' = Σ_jk Σ_st (−1)^t c_s,j c_t,k G_{s+t}(y_k − y_j)     = −2 ln(d/ρ) ∫ A B dy + K(d)

The logarithm is the section's (two dimensions); K stays finite as d → 0. Of two end faces, s = t = 0, K holds
nothing: they are not lines (:func:`facing`).

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

_ON = 1e-7  # metres: a line stands for the limit d → 0
_FINEST = 0.25  # the last interval before an end, of the thinnest bar's thickness
_GROWTH = 1.35  # of the intervals away from the end
_LONGEST = 1 / 5  # of half the length, an interval


@dataclass(frozen=True, kw_only=True, eq=False)
class Along:
    """Functions of y on one bar.

    Attributes
    ----------
    places : array (k,)
        y_j, m, ascending.
    jumps : three arrays (functions, k)
        c₀ (·m), c₁ and c₂ (per m).
    """

    places: Array
    jumps: tuple[Array, Array, Array]

    @property
    def count(self) -> int:
        return int(self.jumps[0].shape[0])

    @property
    def integrals(self) -> Array:
        """∫ A dy (functions,), m."""
        y, (c0, c1, c2) = self.places, self.jumps
        end = y[-1] - y
        return np.asarray(c0.sum(axis=1) + c1 @ end + c2 @ (end**2 / 2))

    def summed(self, weights: Array) -> Along:
        """Their sums with weights (…, functions)."""
        first, second, third = (weights @ c for c in self.jumps)
        return Along(places=self.places, jumps=(first, second, third))


def linear(places: Array, values: Array) -> Along:
    """Functions with values (functions, k) at the places, linear between, 0 beyond."""
    slope = np.diff(values, axis=1) / np.diff(places)
    flat = np.zeros((values.shape[0], 1))
    kinks = np.diff(np.concatenate([flat, slope, flat], axis=1), axis=1)
    steps = np.zeros_like(values)
    steps[:, 0], steps[:, -1] = values[:, 0], -values[:, -1]
    return Along(places=places, jumps=(np.zeros_like(values), steps, kinks))


def whole(half: float) -> Along:
    """One function: 1 from −half to half."""
    return linear(np.array([-half, half]), np.ones((1, 2)))


def knots(half: float, thickness: float) -> Array:
    """Places from the middle, 0, to an end, dense towards it as the field is there."""
    sizes = [min(_FINEST * thickness, _LONGEST * half)]
    while sum(sizes) < half:
        sizes.append(min(_GROWTH * sizes[-1], _LONGEST * half))
    y = half * (1 - np.cumsum([0.0, *sizes]) / sum(sizes))
    return np.concatenate([[0.0], y[-2::-1]])


def hats(y: Array) -> Along:
    """A hat at each of the places 0 = y_0 < … < y_n, together with its image at −y."""
    values = np.eye(y.size)
    return linear(np.concatenate([-y[:0:-1], y]), np.concatenate([values[:, :0:-1], values], axis=1))


def hats_at(y: Array, at: Array) -> Array:
    """Their values at places 0 … y_n: (hats, places)."""
    return np.stack([np.interp(at, y, row) for row in np.eye(y.size)])


def rising(y: Array) -> Along:
    """The charge of a magnetisation along the bar that rises from 0 at the middle as the integral of each hat does.

    −A' is the hat turned over, and what leaves the bar at its ends stands on both end faces. So the charge that ways
    across have inside a bar can be made good by ways along it at every y.
    """
    h = hats(y)
    c0 = np.zeros_like(h.jumps[0])
    c0[:, 0] = c0[:, -1] = h.integrals / 2
    return Along(places=h.places, jumps=(c0, -h.jumps[1], -h.jumps[2]))


def rising_at(y: Array, at: Array) -> Array:
    """The magnetisation of :func:`rising` itself at places 0 … y_n: (hats, places)."""
    step, one = np.diff(y), np.eye(y.size)
    before = np.cumsum((one[:, 1:] + one[:, :-1]) / 2 * step, axis=1)
    before = np.concatenate([np.zeros((y.size, 1)), before], axis=1)
    k = np.clip(np.searchsorted(y, at, side="right") - 1, 0, step.size - 1)
    return np.asarray(before[:, k] + (one[:, k] + hats_at(y, at)) / 2 * (at - y[k]))


def couplings(a: Along, b: Along, d: Array, scale: float) -> Array:
    """K(d) of every two functions, (len(d), a.count, b.count); `scale` is ρ, m."""
    s = b.places[None, :] - a.places[:, None]
    far = np.maximum(d, _ON)[:, None, None]
    logs = np.log(far / scale)
    return _pairs(a, b, [g + logs * t for g, t in zip(_integrals(far, s), _plane(s), strict=True)])


def overlap(a: Along, b: Along) -> Array:
    """∫ A B dy of every two functions, (a.count, b.count); a charge on an end counts half what lies on one side."""
    return _pairs(a, b, _plane(b.places[None, :] - a.places[:, None])) / 2


def facing(a: Along, b: Along, distance: Array, here: Array) -> Array:
    """Σ 1/R between the end faces of two bars with a unit charge on both of each, for lines `distance` apart; `here`
    in place of 1/R where R = 0."""
    total = np.zeros_like(distance)
    for gap in (a.places[-1] - b.places[-1], a.places[-1] + b.places[-1]):
        R = np.hypot(distance, gap)
        total += 2 * np.where(_ON > R, here, 1 / np.maximum(R, _ON))
    return total


def _pairs(a: Along, b: Along, table: list[Array]) -> Array:
    """Σ ± c_s c_t G_{s+t} over all places, (…, a.count, b.count) of tables (…, k, k')."""
    total = np.zeros((*table[-1].shape[:-2], a.count, b.count))
    lefts, rights = ([(s, c) for s, c in enumerate(f.jumps) if np.any(c)] for f in (a, b))
    for s, left in lefts:
        inner = {t: left @ table[s + t] for t, _ in rights if s + t}
        for t, right in rights:
            if s + t:
                total += (-1.0) ** t * (inner[t] @ right.T)
    return total


def _integrals(d: Array, s: Array) -> list[Array]:
    """G₀ (left out) … G₄."""
    R, g = np.hypot(d, s), np.arcsinh(s / d)
    return [np.zeros_like(R), g, s * g - R, (s * s / 2 - d * d / 4) * g - 0.75 * s * R,
            (s**3 / 6 - d * d * s / 4) * g + 5 / 12 * d * d * R - 11 / 36 * R**3]


def _plane(s: Array) -> list[Array]:
    """The integrals of 2 δ(s), as G_n ≈ −T_n ln d."""
    return [np.zeros_like(s), np.sign(s), np.abs(s), s * np.abs(s) / 2, np.abs(s) ** 3 / 6]
