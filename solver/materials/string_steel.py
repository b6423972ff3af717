r"""What strings are made of: M(H) along the wire, and the reversible slope that answers to motion.

Static (anhysteretic) laws, x = 3 χ₀ H/Ms::

    langevin   M = Ms (coth x − 1/x)
    frohlich   M = Ms χ₀ H/(Ms + χ₀ |H|)      (a test law: mixes both slopes in one curve)
    linear     M = χ₀ H
    table      through measured points (:mod:`.string_points`)

Reversible: χ = χ_rev (1 − (M/Ms)²). H is the field inside the wire. The static curve sets M; a vibrating
string moves on slopes between the static and the reversible one.

References
----------
Langevin's function as the anhysteretic curve: D. C. Jiles, D. L. Atherton, "Theory of ferromagnetic hysteresis", *J.
Magn. Magn. Mater.* 61 (1986) 48 (memory). Frölich's law: R. M. Bozorth, *Ferromagnetism*, Van Nostrand 1951 (memory).
The parabola of the reversible slope: derived here from its ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError

from ..constants import MU0
from .string_points import StringPoints

_SERIES = 0.05  # below this x the Langevin function by its series; the first term left out is 2e-12 of it

_LEAST, _FAR = 1e-3, 300.0  # of x: L(x)/x is 1/3 to 7e-8 under the one, and nothing overflows above the other


@dataclass(frozen=True, kw_only=True)
class StringSteel:
    """Wire of a string, core or wrap.

    Attributes
    ----------
    name : str
    saturation : float
        Ms, A/m; infinite with the linear law.
    chi_initial : float
        Initial susceptibility of the static curve.
    chi_reversible : float
        Reversible susceptibility of the demagnetised state.
    pinning : float
        How strongly its walls are held: the mean κ of :class:`.string_memory.StringMemory`, A/m.
    chi_initial_range, chi_reversible_range, pinning_range : (float, float)
        What they may be; (0, 0) where that is not said.
    law : "langevin", "frohlich", "linear" or "table"
    table : StringPoints or None
        The static curve of the law "table", whose saturation and initial susceptibility these are.
    density : float
        kg/m³.
    resistivity : float
        Ω·m.
    youngs_modulus : float
        Pa.
    source : str

    Raises
    ------
    CaseError
        If the law is none of these, or a number not one that such a metal has.
    """

    name: str
    saturation: float
    chi_initial: float
    chi_reversible: float
    pinning: float = 0.0
    chi_initial_range: tuple[float, float] = (0.0, 0.0)
    chi_reversible_range: tuple[float, float] = (0.0, 0.0)
    pinning_range: tuple[float, float] = (0.0, 0.0)
    law: Literal["langevin", "frohlich", "linear", "table"] = "langevin"
    table: StringPoints | None = None
    density: float = 7806.0
    resistivity: float = 2.0e-7
    youngs_modulus: float = 207e9
    source: str = ""

    def __post_init__(self) -> None:
        where = f"material {self.name!r}"
        if self.law not in ("langevin", "frohlich", "linear", "table"):
            raise CaseError(f"{where}: law: must be langevin, frohlich, linear or table, got {self.law!r}")
        if (self.table is None) == (self.law == "table"):
            raise CaseError(f"{where}: table: goes with the law \"table\", and that with it, got {self.law!r}")
        if not self.saturation > 0.0 or (self.law != "linear" and self.saturation == float("inf")):
            raise CaseError(f"{where}: saturation: must be positive, got {self.saturation:g} A/m")
        if not (0.0 <= self.chi_initial < float("inf") and 0.0 <= self.chi_reversible < float("inf")):
            raise CaseError(
                f"{where}: susceptibility: must not be negative, got {self.chi_initial:g} (initial) and "
                f"{self.chi_reversible:g} (reversible)"
            )
        if self.chi_reversible > self.chi_initial:
            raise CaseError(
                f"{where}: reversible susceptibility: must not exceed the initial one, {self.chi_initial:g}, "
                f"got {self.chi_reversible:g}"
            )
        if not 0.0 <= self.pinning < float("inf"):
            raise CaseError(f"{where}: pinning: must not be negative, got {self.pinning:g} A/m")
        if not (self.density > 0.0 and self.resistivity > 0.0 and self.youngs_modulus > 0.0):
            raise CaseError(f"{where}: density, resistivity and Young's modulus must be positive")

    @property
    def polarisation(self) -> float:
        """Js = μ0 Ms, T."""
        return MU0 * self.saturation

    def magnetisation(self, h: npt.ArrayLike) -> tuple[Array, Array]:
        """M in A/m and dM/dH on the static curve at H in A/m; odd in H, any shape."""
        h = np.asarray(h, dtype=float)
        Ms, chi = self.saturation, self.chi_initial
        if self.law == "linear":
            return chi * h, np.full_like(h, chi)
        if self.table is not None:
            ratio, slope = self.table.by_modulus(np.abs(h))
            return ratio * h, slope
        if self.law == "frohlich":
            under = Ms + chi * np.abs(h)
            return Ms * chi * h / under, chi * (Ms / under) ** 2
        x = 3.0 * chi * np.abs(h) / Ms
        L, dL = langevin(x)
        return np.sign(h) * Ms * L, 3.0 * chi * dL

    def by_modulus(self, h: Array) -> tuple[Array, Array]:
        """M/H and dM/dH at moduli H > 0 (…): what :meth:`magnetisation` gives, to 1e-7 of χ, and faster."""
        if self.table is not None:
            return self.table.by_modulus(h)
        if self.law != "langevin":
            m, slope = self.magnetisation(h)
            return m / h, slope
        return langevin_by_modulus(h, self.chi_initial, self.saturation)

    def reversible(self, m: npt.ArrayLike) -> Array:
        """Reversible susceptibility at the magnetisation M in A/m."""
        part = np.clip(np.abs(np.asarray(m, dtype=float)) / self.saturation, 0.0, 1.0)
        return np.asarray(self.chi_reversible * (1.0 - part * part))

    def curve_points(self, n: int = 200) -> tuple[Array, Array]:
        """H (A/m) and B (T) of the static curve up to 95 % of saturation, for drawing; each (n,)."""
        if self.chi_initial == 0.0 or self.law == "linear":
            h = np.linspace(0.0, 1e4, n)
        else:
            h = np.linspace(0.0, 1.0, n) ** 2 * 20.0 * self.saturation / self.chi_initial
        return h, MU0 * (h + self.magnetisation(h)[0])


def langevin(x: Array) -> tuple[Array, Array]:
    """L(x) = coth x − 1/x and L'(x), x ≥ 0."""
    small = x < _SERIES
    y = np.where(small, 1.0, x)
    e = np.exp(-2.0 * y)  # coth and 1/sinh² by exp(−2x): nothing overflows
    big = (1.0 + e) / (1.0 - e) - 1.0 / y
    d_big = 1.0 / (y * y) - 4.0 * e / (1.0 - e) ** 2
    z = np.where(small, x, 0.0)
    z2 = z * z
    series = z * (1.0 / 3.0 - z2 * (1.0 / 45.0 - z2 * (2.0 / 945.0 - z2 / 4725.0)))
    d_series = 1.0 / 3.0 - z2 * (1.0 / 15.0 - z2 * (2.0 / 189.0 - z2 / 675.0))
    return np.where(small, series, big), np.where(small, d_series, d_big)


def langevin_by_modulus(h: Array, chi: float | Array, saturation: float | Array) -> tuple[Array, Array]:
    """M/H and dM/dH of Langevin's curve at moduli H > 0, to 1e-7 of χ; all go with each other."""
    three = 3.0 * chi
    x = np.minimum(np.maximum((three / saturation) * h, _LEAST), _FAR)
    lower = 1.0 / x
    L = 1.0 + 2.0 / np.expm1(x + x) - lower
    ratio = three * L
    slope = three - ratio * L
    ratio *= lower  # of L(x)/x
    slope -= ratio + ratio
    return ratio, slope
