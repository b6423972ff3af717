r"""The major second-quadrant curve of a permanent magnet, as H(B).

Three shapes, each anchored at (0, Br) and (−Hc, 0), each with dB/dH ≥ μ0, so that the polarisation
J = B − μ0 H never rises while the magnet is demagnetised.

Hyperbola, for the rounded loops of alnico 1–6 and 8 (Parker & Studders)::

    H = −Hc (Br − B)/(Br − a B)     a = (2√γ − 1)/γ     γ = BHmax/(Br Hc)

It may start flatter than any recoil line (alnico 5: under μ0), so it counts only where it lies under the
line through (0, Br) with the least recoil slope of the grade. In rods as short as pole pieces no point
comes near that part: their field is the same to 0.1 % with and without the line. Below B = 0 the formula
knows nothing of the grade any more: there the curve goes on so that it meets the intrinsic coercivity.

Knee, for squarer loops: a hyperbola between two asymptotes, the recoil line and a steep one, ::

    H = ½ [h₁ + h₂ + √((h₁ − h₂)² + ε²)]    h₁ = (B − B₁)/(μ0 μrec)    h₂ = s B − H₂

with ε from BHmax. Points: a measured table, monotone cubic between.

References
----------
Hyperbola: R. J. Parker, R. J. Studders, *Permanent Magnets and Their Application*, Wiley 1962 (memory). Knee: derived
here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Protocol

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError

from ..constants import MU0
from ._continuation import go_on

if TYPE_CHECKING:
    from scipy.interpolate import PchipInterpolator

_BLEND = 0.25  # within this part of Br the slope below B = 0 goes over to the one that meets Hci
_CORNER = 0.02  # rounding of the hyperbola's meeting with the recoil line, in Hc
_BEYOND = 1.2  # of μ0 Hci: so far down a knee is followed, for with rare earths it lies below −Br
_STEEPEST = 400.0  # slope dB/dH below a knee, in μ0, where Hci = Hc gives no finite one (alnico 5 has 415)


class Demagnetisation(Protocol):
    """H(B) between `lowest` and Br."""

    @property
    def lowest(self) -> float:
        """Lowest B at which the shape is meant, T."""

    def h(self, b: Array) -> tuple[Array, Array]:
        """H in A/m and dH/dB in m/H at B in T, any shape."""


@dataclass(frozen=True, kw_only=True)
class Hyperbola:
    """Rectangular hyperbola under a recoil line; Br in T, Hc and Hci in A/m, BHmax in J/m³, slope in μ0.

    Raises
    ------
    CaseError
        If BHmax is no 0.25 to 1 times Br Hc: no hyperbola has it.
    """

    remanence: float
    coercivity: float
    energy_product: float
    mu_least: float
    intrinsic_coercivity: float

    def __post_init__(self) -> None:
        gamma = self.energy_product / (self.remanence * self.coercivity)
        if not 0.25 < gamma < 1.0:
            raise CaseError(
                f"energy product: must be 0.25 to 1 times remanence × coercivity, got {gamma:.3g} times"
            )

    @property
    def lowest(self) -> float:
        return -self.remanence

    @property
    def a(self) -> float:
        gamma = self.energy_product / (self.remanence * self.coercivity)
        return (2.0 * math.sqrt(gamma) - 1.0) / gamma

    def pure(self, b: Array) -> tuple[Array, Array]:
        """The formula alone, without the recoil line."""
        Br, Hc, a = self.remanence, self.coercivity, self.a
        return -Hc * (Br - b) / (Br - a * b), Hc * Br * (1.0 - a) / (Br - a * b) ** 2

    def h(self, b: Array) -> tuple[Array, Array]:
        """The larger H of formula and recoil line, the corner rounded; both pass (0, Br). Below B = 0 on to −Hci."""
        h, s = self._above(np.maximum(b, 0.0))
        (h0,), (s0,) = self._above(np.zeros(1))
        down, s_down = go_on(np.maximum(-b, 0.0), s0, self._far_slope(h0, s0), _BLEND * self.remanence)
        return np.where(b < 0.0, h0 - down, h), np.where(b < 0.0, s_down, s)

    def _far_slope(self, h0: float, s0: float) -> float:
        """dH/dB far below B = 0 with which J = 0 at −Hci, or the least there is where H would have to rise."""
        width, d = _BLEND * self.remanence, MU0 * self.intrinsic_coercivity
        part = width * -math.expm1(-d / width)
        wanted = (h0 + self.intrinsic_coercivity - s0 * part) / (d - part)
        return max(wanted, 1.0 / (MU0 * _STEEPEST))

    def _above(self, b: Array) -> tuple[Array, Array]:
        h1, s1 = self.pure(b)
        s2 = 1.0 / (MU0 * self.mu_least)
        h2 = (b - self.remanence) * s2
        e_slope = -_CORNER * self.coercivity / self.remanence
        e = e_slope * (b - self.remanence)
        root = np.sqrt((h1 - h2) ** 2 + e**2)
        # at Br itself all three vanish together; there the root goes with Br − B
        limit = -np.hypot(s1 - s2, e_slope)
        safe = np.where(root > 1e-6, root, 1.0)
        bend = np.where(root > 1e-6, ((h1 - h2) * (s1 - s2) + e * e_slope) / safe, limit)
        return (h1 + h2 + root) / 2.0, (s1 + s2 + bend) / 2.0


@dataclass(frozen=True, kw_only=True)
class Knee:
    """Recoil line that bends into a steep line; build it with :meth:`fitted`."""

    line_remanence: float
    line_slope: float
    knee_field: float
    knee_slope: float
    rounding: float
    lowest: float

    def h(self, b: Array) -> tuple[Array, Array]:
        h1 = (b - self.line_remanence) * self.line_slope
        h2 = self.knee_slope * b - self.knee_field
        root = np.sqrt((h1 - h2) ** 2 + self.rounding**2)
        bend = (h1 - h2) * (self.line_slope - self.knee_slope) / root
        return (h1 + h2 + root) / 2.0, (self.line_slope + self.knee_slope + bend) / 2.0

    @classmethod
    def fitted(
        cls,
        *,
        remanence: float,
        coercivity: float,
        intrinsic_coercivity: float,
        mu_recoil: float,
        energy_product: float | None = None,
    ) -> Knee:
        """Through (0, Br), (−Hc, 0) and with the given BHmax; without one the knee is nearly sharp.

        Where the recoil line alone has fallen to B = 0 before −Hc the knee lies in the third quadrant
        and only (0, Br) and the intrinsic coercivity are met.

        Raises
        ------
        CaseError
            If no knee has these numbers.
        """
        from scipy.optimize import brentq  # here: the names of materials are wanted without scipy

        Br, Hc, Hci = remanence, coercivity, intrinsic_coercivity
        s1 = 1.0 / (MU0 * mu_recoil)
        inside = Br * s1 > Hc * 1.005
        s2 = 1.0 / (MU0 * _STEEPEST)
        if inside:  # the steep line ends where J = 0: B = −μ0 Hci at −Hci
            s2 = max(s2, (Hci - Hc) / (MU0 * Hci))

        def build(eps: float) -> Knee:
            e2 = eps * eps / 4.0
            if not inside:  # h₂ meets (−Hci, −μ0 Hci)
                H2 = Hci - s2 * MU0 * Hci
                B1 = Br + e2 / (H2 - s2 * Br) / s1
            else:
                # (0, Br) gives B₁ from H₂, then (−Hc, 0) is one equation for H₂
                def miss(H: float) -> float:
                    B1 = Br + e2 / (H - s2 * Br) / s1
                    return (B1 * s1 - Hc) * (H - Hc) - e2

                low = max(Hc, s2 * Br * 1.000001)
                H2 = float(brentq(miss, low, low + Hc + eps * eps / Hc * 100.0 + 1.0)) if eps > 0 else Hc
                B1 = Br + e2 / (H2 - s2 * Br) / s1
            return cls(
                line_remanence=B1, line_slope=s1, knee_field=H2, knee_slope=s2, rounding=eps,
                lowest=min(-Br, -_BEYOND * MU0 * Hci)
            )

        sharp = 0.01 * Hc
        if energy_product is None or not inside:
            return build(sharp)

        def excess(eps: float) -> float:
            b = np.linspace(0.0, Br, 801)
            return float(np.max(-b * build(eps).h(b)[0])) - energy_product

        if excess(sharp) <= 0.0:
            return build(sharp)
        if excess(3.0 * Hc) > 0.0:
            raise CaseError(
                f"energy product: {energy_product:g} J/m³ is too small for this remanence, coercivity and "
                "recoil permeability"
            )
        return build(float(brentq(excess, sharp, 3.0 * Hc, xtol=1e-6 * Hc)))


@dataclass(frozen=True, kw_only=True)
class Straight:
    """B = Br + μ0 μrec H, without a knee."""

    remanence: float
    mu_recoil: float

    @property
    def lowest(self) -> float:
        return -self.remanence

    def h(self, b: Array) -> tuple[Array, Array]:
        s = 1.0 / (MU0 * self.mu_recoil)
        return (b - self.remanence) * s, np.full_like(b, s)


@dataclass(frozen=True, kw_only=True)
class Points:
    """Monotone cubic through (H, B), B ascending; SI, H ≤ 0."""

    fields: tuple[float, ...]
    inductions: tuple[float, ...]

    @property
    def lowest(self) -> float:
        return self.inductions[0]

    @cached_property
    def _cubic(self) -> tuple[PchipInterpolator, PchipInterpolator]:
        from scipy.interpolate import PchipInterpolator

        cubic = PchipInterpolator(self.inductions, self.fields)
        return cubic, cubic.derivative()

    def h(self, b: Array) -> tuple[Array, Array]:
        cubic, slope = self._cubic
        # a flat PCHIP end would stop Newton: keep a thousandth of the steepest secant
        least = 1.0 / (MU0 * 1e5)
        return np.asarray(cubic(b)), np.maximum(np.asarray(slope(b)), least)
