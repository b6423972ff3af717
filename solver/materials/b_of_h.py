r"""B(H) of every material for the potential solver, from the same curves the flux solvers read as H(B).

Magnet, easy axis e::

    B = b(e·H) e + μ0 μ_⊥ (H − (e·H) e),     b the inverse of the demagnetisation curve h

Soft body, string::

    B = b(|H|) H/|H|

with their exact tangents ∂B/∂H. The inverse of a rising curve h(b): a table in b gives the bracket, Newton's method
inside it the last digit; a step that would leave the bracket is halved into it. Every law also gives its point at an
induction (`at_induction`), which takes no inverse.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.bodies import SolidBody

from ..constants import MU0
from .h_of_b import as_made, charge_of
from .kinds import BodyMaterial, Soft, is_magnet, is_string_metal
from .string_steel import StringSteel

_POINTS = 2001
_HIGHEST = 4.0  # T; beyond it curves go straight on
_STEPS = 60
_TINY, _LEAST = 1e-6, 1e-9  # A/m and T: below them |H| and |B| are taken as this, which keeps 0/0 away


class EasyCurve(Protocol):
    """What goes on along an easy axis."""

    def __call__(self, h: Array) -> tuple[Array, Array]:
        """b in T and db/dh in H/m at h in A/m."""

    def field(self, b: Array) -> tuple[Array, Array]:
        """h in A/m and dh/db in m/H at b in T."""



@dataclass(frozen=True, kw_only=True, eq=False)
class Inverse:
    """b(h) of a rising curve.

    Attributes
    ----------
    curve : callable
        h in A/m and dh/db in m/H at b in T.
    b, h : arrays (n,)
        Its table.
    """

    curve: Callable[[Array], tuple[Array, Array]]
    b: Array
    h: Array

    @classmethod
    def of(cls, curve: Callable[[Array], tuple[Array, Array]], low: float = -_HIGHEST,
           highest: float = _HIGHEST) -> Inverse:
        """The inverse of a curve from `low` to 4 T, denser about 0; of one of H from 0 to `highest`, A/m."""
        half = highest * np.linspace(0.0, 1.0, _POINTS) ** 2
        b = half if low >= 0.0 else np.concatenate([-half[:0:-1], half])
        return cls(curve=curve, b=b, h=curve(b)[0])

    def field(self, b: Array) -> tuple[Array, Array]:
        """h in A/m and dh/db in m/H."""
        return self.curve(b)

    def __call__(self, h: Array) -> tuple[Array, Array]:
        """b in T and db/dh in H/m."""
        shape, h = h.shape, h.ravel()
        i = np.clip(np.searchsorted(self.h, h) - 1, 0, self.b.size - 2)
        low, high = self.b[i].copy(), self.b[i + 1].copy()
        low[h < self.h[0]], high[h > self.h[-1]] = -1e3 * self.b[-1], 1e3 * self.b[-1]  # the straight ends
        b = np.clip(low + (h - self.h[i]) / (self.h[i + 1] - self.h[i]) * (high - low), low, high)
        open_ = np.arange(h.size)
        slope = np.empty_like(b)
        for _ in range(_STEPS):
            at = b[open_]
            found, s = self.curve(at)
            miss = found - h[open_]
            slope[open_] = s
            high[open_] = np.where(miss > 0, at, high[open_])
            low[open_] = np.where(miss <= 0, at, low[open_])
            new = at - miss / s
            outside = (new < low[open_]) | (new > high[open_])
            new = np.where(outside, (low[open_] + high[open_]) / 2, new)
            b[open_] = new
            open_ = open_[np.abs(new - at) > 1e-12 + 1e-11 * np.abs(new)]
            if open_.size == 0:
                break
        return b.reshape(shape), (1.0 / slope).reshape(shape)


@dataclass(frozen=True, kw_only=True, eq=False)
class MagnetLaw:
    """B(H) of a magnet; `axis` (3,) its easy axis, `mu_recoil` the slope of its recoil lines."""

    axis: Array
    easy: EasyCurve
    mu_across: float
    mu_recoil: float

    def __call__(self, h: Array) -> tuple[Array, Array]:
        """B (3, …) in T and ∂B/∂H (3, 3, …) in H/m for H (3, …) in A/m."""
        e = self.axis
        along = np.tensordot(e, h, 1)
        b, slope = self.easy(along)
        mu = MU0 * self.mu_across
        return mu * h + np.multiply.outer(e, b - mu * along), self._tangent(slope)

    def at_induction(self, h: Array, b: Array) -> tuple[Array, Array, Array]:
        """H, B and ∂B/∂H of the law where B along the easy axis is that of `b`, and H across it that of `h`."""
        e = self.axis
        along = np.tensordot(e, b, 1)
        there, slope = self.easy.field(along)
        h = h + np.multiply.outer(e, there - np.tensordot(e, h, 1))
        mu = MU0 * self.mu_across
        return h, mu * h + np.multiply.outer(e, along - mu * there), self._tangent(1.0 / slope)

    def _tangent(self, slope: Array) -> Array:
        mu = MU0 * self.mu_across
        tangent = np.multiply.outer(np.outer(self.axis, self.axis), slope - mu)
        for i in range(3):
            tangent[i, i] += mu
        return tangent


@dataclass(frozen=True, kw_only=True, eq=False)
class SoftLaw:
    """B(H) of an isotropic body; `modulus` gives |B| and d|B|/d|H| at |H| ≥ 0, `inverse` |H| and d|H|/d|B| at |B|."""

    modulus: Callable[[Array], tuple[Array, Array]]
    inverse: Callable[[Array], tuple[Array, Array]]

    def __call__(self, h: Array) -> tuple[Array, Array]:
        size = np.maximum(np.sqrt(np.sum(h * h, 0)), _TINY)
        b, slope = self.modulus(size)
        mu = b / size
        return mu * h, _of_modulus(h / size, mu, slope)

    def at_induction(self, h: Array, b: Array) -> tuple[Array, Array, Array]:
        """H, B and ∂B/∂H of the law at the induction `b`."""
        size = np.maximum(np.sqrt(np.sum(b * b, 0)), _LEAST)
        there, slope = self.inverse(size)
        mu = np.where(there > _TINY, size / np.maximum(there, _TINY), 1.0 / slope)
        return b / mu, b, _of_modulus(b / size, mu, 1.0 / slope)


def _of_modulus(n: Array, mu: Array, slope: Array) -> Array:
    """∂B/∂H where B has the direction n, |B|/|H| is mu and d|B|/d|H| slope."""
    tangent = (slope - mu) * n[:, None] * n[None, :]
    for i in range(3):
        tangent[i, i] += mu
    return tangent


def solid_law(body: SolidBody, material: BodyMaterial) -> MagnetLaw | SoftLaw:
    """The law of a body."""
    if is_magnet(material):
        magnet, charge = as_made(material, body), charge_of(body)
        return MagnetLaw(axis=np.array(body.axis), mu_across=magnet.mu_transverse, mu_recoil=magnet.mu_recoil,
                         easy=Inverse.of(lambda b: magnet.field(b, charge=charge)))
    return soft_law(material)


def soft_law(material: Soft | StringSteel) -> SoftLaw:
    """The law of steel, of a constant permeability or of a string's metal."""
    if is_string_metal(material):
        def of_string(h: Array) -> tuple[Array, Array]:
            m, slope = material.magnetisation(h)
            return MU0 * (h + m), MU0 * (1.0 + slope)

        return SoftLaw(modulus=of_string, inverse=Inverse.of(of_string, low=0.0, highest=_HIGHEST / MU0))
    return SoftLaw(modulus=Inverse.of(material.static, low=0.0), inverse=material.static)
