r"""Soft magnetic material: reluctivity ν(|B|²) and the reversible permeability a small signal meets.

Static: H = ν(B²) B with ν = H(B)/B from a table or from Roschke's fit::

    μr = 1 + (μi − 1 + ca b)/(1 + cb b + bⁿ)      b = |B|/Bm

Both stop at a largest B; from there J goes on to the saturation Js and the slope to μ0.

Small signal: the reversible permeability, not the slope of the B–H curve ::

    μ_rev(B) = 1 + (μ_rev,0 − 1)(1 − (J/Js)²)

never above the slope dB/dH of the static curve past its steepest place. (Below it the fits have an initial
slope that means little: Roschke's gives μr 10 for 12L14 at B = 0.)

References
----------
Static fit: A. Roschke, *VDI Fortschritt-Berichte* 21/293 (2000). How the curve goes on, and the parabola of the
reversible permeability: derived here from its ends.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Protocol

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError

from ..constants import MU0, NU0
from ._continuation import go_on

if TYPE_CHECKING:
    from scipy.interpolate import PchipInterpolator

_B_LEAST = 1e-5  # T: below it ν is constant, which keeps 0/0 away


class StaticLaw(Protocol):
    """H(|B|) from 0 to `highest`."""

    @property
    def highest(self) -> float:
        """Largest |B| the law is meant for, T."""

    def h(self, b: Array) -> tuple[Array, Array]:
        """H in A/m and dH/dB in m/H at |B| in T, any shape."""


@dataclass(frozen=True, kw_only=True)
class Roschke:
    """The fit above; Bm (`scale`) and `highest` in T."""

    mu_initial: float
    scale: float
    ca: float
    cb: float
    n: float
    highest: float = 1.8

    def mu(self, b: Array) -> tuple[Array, Array]:
        """μr and its derivative with |B|, 1/T."""
        x = b / self.scale
        over = self.mu_initial - 1.0 + self.ca * x
        under = 1.0 + self.cb * x + x**self.n
        d_under = self.cb + self.n * x ** (self.n - 1.0)
        return 1.0 + over / under, (self.ca - over * d_under / under) / under / self.scale

    def h(self, b: Array) -> tuple[Array, Array]:
        mu, dmu = self.mu(b)
        return NU0 * b / mu, NU0 * (1.0 - b * dmu / mu) / mu


@dataclass(frozen=True, kw_only=True)
class TablePoints:
    """Monotone cubic H(B) through measured points; A/m and T, both ascending, without the origin."""

    fields: tuple[float, ...]
    inductions: tuple[float, ...]

    @property
    def highest(self) -> float:
        return self.inductions[-1]

    @cached_property
    def _cubic(self) -> tuple[PchipInterpolator, PchipInterpolator]:
        from scipy.interpolate import PchipInterpolator  # here: names of materials are wanted without scipy

        B, H = np.array(self.inductions), np.array(self.fields)
        # mirrored through the origin, so that the initial slope is a proper one
        cubic = PchipInterpolator(np.concatenate([-B[::-1], [0.0], B]), np.concatenate([-H[::-1], [0.0], H]))
        return cubic, cubic.derivative()

    def h(self, b: Array) -> tuple[Array, Array]:
        cubic, slope = self._cubic
        return np.asarray(cubic(b)), np.asarray(slope(b))


@dataclass(frozen=True, kw_only=True)
class SoftCurve:
    """Isotropic soft magnetic material.

    Attributes
    ----------
    name : str
    law : StaticLaw
        Static curve.
    saturation : float
        Js, T.
    mu_reversible : float
        Relative reversible permeability of the demagnetised state.
    mu_reversible_range : (float, float)
        What it may be.
    resistivity : float
        Ω·m at 20 °C.
    resistivity_per_kelvin : float
        By what share of it the resistivity rises, 1/K; 0 where it is not known.
    source : str

    Raises
    ------
    CaseError
        If the reversible permeability is below 1, Js not positive, or B does not rise with H.
    """

    name: str
    law: StaticLaw
    saturation: float
    mu_reversible: float = 200.0
    mu_reversible_range: tuple[float, float] = (100.0, 300.0)
    resistivity: float = float("inf")
    resistivity_per_kelvin: float = 0.0
    source: str = ""

    def __post_init__(self) -> None:
        if not self.mu_reversible >= 1.0:
            raise CaseError(
                f"material {self.name!r}: reversible permeability: must be at least 1, "
                f"got {self.mu_reversible:g}"
            )
        check_soft(self)

    @property
    def magnetic(self) -> bool:
        """Whether a static field knows of it."""
        return True

    def static(self, b: npt.ArrayLike) -> tuple[Array, Array]:
        """H in A/m and dH/dB in m/H at |B| in T."""
        b = np.asarray(b, dtype=float)
        top, h_top, s_top, width = self._end
        h, s = self.law.h(np.minimum(b, top))
        rise, s_rise = go_on(np.maximum(b - top, 0.0), s_top, NU0, width)
        return np.where(b > top, h_top + rise, h), np.where(b > top, s_rise, s)

    def reluctivity(self, b2: npt.ArrayLike) -> tuple[Array, Array]:
        """ν in m/H and dν/d(B²) in m/(H T²) at |B|² in T², any shape."""
        b2 = np.asarray(b2, dtype=float)
        b = np.sqrt(np.maximum(b2, _B_LEAST**2))
        h, s = self.static(b)
        nu = h / b
        return nu, np.where(b2 > _B_LEAST**2, (s - nu) / (2.0 * b * b), 0.0)

    def reversible(self, b: npt.ArrayLike) -> Array:
        """Relative reversible permeability at the bias |B| in T, any shape."""
        b = np.asarray(b, dtype=float)
        h, s = self.static(b)
        part = np.clip((b - MU0 * h) / self.saturation, 0.0, 1.0)
        mu = 1.0 + (self.mu_reversible - 1.0) * (1.0 - part * part)
        slope = np.where(b > self._steepest, NU0 / s, np.inf)
        return np.asarray(np.maximum(np.minimum(mu, slope), 1.0))

    def curve_points(self, n: int = 200) -> tuple[Array, Array]:
        """H (A/m) and B (T) from 0 to 0.2 T beyond the saturation, for drawing; each (n,)."""
        b = np.linspace(0.0, self.saturation + 0.2, n)
        return self.static(b)[0], b

    @cached_property
    def _steepest(self) -> float:
        b = np.linspace(0.0, self.law.highest, 2000)
        return float(b[np.argmin(self.law.h(b)[1])])

    @cached_property
    def _end(self) -> tuple[float, float, float, float]:
        """Top of the law: B, H, dH/dB; and the width over which the rest of J is reached."""
        top = self.law.highest
        h, s = (float(v[0]) for v in self.law.h(np.array([top])))
        s = min(s, NU0 * (1.0 - 1e-9))
        rest = max(self.saturation - (top - MU0 * h), 1e-4)
        return top, h, s, rest / (1.0 - MU0 * s)


def soft_from_points(
    *,
    name: str,
    points: Sequence[tuple[float, float]],
    saturation: float | None = None,
    mu_reversible: float | None = None,
    mu_reversible_range: tuple[float, float] | None = None,
    resistivity: float = float("inf"),
    resistivity_per_kelvin: float = 0.0,
    source: str = "given in the case",
) -> SoftCurve:
    """B–H table.

    Parameters
    ----------
    points : sequence of (H, B)
        A/m and T, in any order; the origin may be among them.
    saturation : float, optional
        Js, T; when not given J goes on a little beyond the last point.
    mu_reversible : float, optional
        Relative; when not given 200, or the steepest slope of the table where that is less.

    Raises
    ------
    CaseError
        If the points are too few, or no B–H curve.
    """
    where = f"material {name!r}: points"
    table = sorted((h, b) for h, b in points if not (h == 0.0 and b == 0.0))
    if len(table) < 2:
        raise CaseError(f"{where}: a B–H table needs at least 2 points besides the origin, got {len(table)}")
    H, B = np.array(table).T
    if not (np.all(np.isfinite(H)) and np.all(np.isfinite(B))):
        raise CaseError(f"{where}: every number must be finite")
    if H[0] <= 0.0 or B[0] <= 0.0:
        raise CaseError(f"{where}: H and B must be positive, got {H[0]:g} A/m with {B[0]:g} T")
    Ha, Ba = np.concatenate([[0.0], H]), np.concatenate([[0.0], B])
    for i in range(len(H)):
        dH, dB = Ha[i + 1] - Ha[i], Ba[i + 1] - Ba[i]
        if not (dH > 0.0 and dB > 0.0):
            raise CaseError(
                f"{where}: B must rise with H, got {Ba[i]:g} T at {Ha[i]:g} A/m and {Ba[i + 1]:g} T at "
                f"{Ha[i + 1]:g} A/m"
            )
        if dB < MU0 * dH * 0.99:
            raise CaseError(
                f"{where}: between {Ha[i]:g} and {Ha[i + 1]:g} A/m B rises by less than μ0·ΔH; "
                "check the units"
            )
    last = float(B[-1] - MU0 * H[-1])
    if saturation is not None and saturation < last * (1.0 - 1e-6):
        raise CaseError(
            f"material {name!r}: saturation: must be at least the polarisation of the last point, "
            f"{last:.4g} T, got {saturation:g} T"
        )
    law = TablePoints(fields=tuple(H.tolist()), inductions=tuple(B.tolist()))
    given = mu_reversible is not None
    if mu_reversible is None:
        mu_reversible = min(200.0, float(np.max(np.diff(Ba) / np.diff(Ha))) * NU0)
    if mu_reversible_range is None:
        half = max(mu_reversible / 2.0, 1.0)
        mu_reversible_range = (mu_reversible, mu_reversible) if given else (half, mu_reversible * 1.5)
    return SoftCurve(
        name=name,
        law=law,
        saturation=last * 1.02 if saturation is None else saturation,
        mu_reversible=mu_reversible,
        mu_reversible_range=mu_reversible_range,
        resistivity=resistivity,
        resistivity_per_kelvin=resistivity_per_kelvin,
        source=source,
    )


def check_soft(m: SoftCurve) -> None:
    """Refuse a curve whose H does not rise with B, up to saturation and beyond.

    Raises
    ------
    CaseError
    """
    if not 0.0 < m.saturation < float("inf"):
        raise CaseError(f"material {m.name!r}: saturation: must be positive, got {m.saturation:g}")
    b = np.linspace(0.0, 1.2 * m.law.highest, 400)
    h, s = m.static(b)
    if not (np.all(np.isfinite(h)) and np.all(np.diff(h) > 0.0) and np.all(s > 0.0)):
        raise CaseError(f"material {m.name!r}: B–H curve: B must rise steadily with H")
