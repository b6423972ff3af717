r"""The wrap of a wound string as one coaxial layer: its axial M(H) with the gaps between turns in it.

The gaps act on the wire like a demagnetising factor D, and a part s² = sin² of the turns' slope of the
field follows the wire round without meeting them. With the wire's own curve m(h), c = m/h::

    H = h / q,   q² = s² + (1 − s²) a²,   a = 1/(1 + D c)          h inside the wire
    M = c H (s² + (1 − s²) a),   M_across = √(1 − s²) c a H        per metal volume
    D^n = D₀^n + S(M_across/Ms)^n,   S(x) = 0.085 x (1 + 0.55 x⁴),  n = 3.4

D₀ comes from the linear cell of one turn and hardly depends on the metal (1 % turn gap: 0.039 at χ 700,
0.042 at χ 100). S is what saturation adds: it starts where the turns nearly touch, at a mean M of a
quarter of Ms for 1 %. It was fitted to nonlinear solutions of that cell (gaps 0.5…30 %, three metals) and
M is within 4 % of them; without it M is up to 40 % too high half way to saturation.

Give the wrap's layer and the core's one radius for their charge, just below the crests of the turns
(:func:`.layers.charge_radius`): the wrap is good steel across, so the core's flux leaves through its surface. Held
against strings resolved turn by turn, the moment is within 2 %, in fields that change sign within millimetres within
1.5 %, linkage too; on the crests it is up to 3 % high there and the linkage 5 %, at the core's radius and the turns'
mean radius the moment is 2…10 % low. Under a wrap that is not magnetic the core keeps its own radius.

Against one real helix in 3-D (tests/measure/helix.py, thin wrap and bass, gaps 0.5 and 5 %, linear metals) M of the
wrap is within 2.3 % and the axial moment of core and wrap within 0.25 %; rings alone lack 1.3…5.3 % of it. The wire
also carries 0.3…3.4 times its axial M round the string. No coil links that: round a circle ∮ b·dl = 0, no current
goes through it.
Across, core and wrap as cylinders side by side have 10…15 % less moment than the helix; one cylinder to the crests
has 7…11 % more.

References
----------
Derived here; S(x) and n are a fit of ours to solutions of :mod:`.wrap_turn`.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from functools import lru_cache
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.interpolate import CubicSpline, PPoly

from stringflux.geometry.arrays import Array
from stringflux.solver.interpolation import lagrange
from stringflux.solver.materials import StringSteel
from stringflux.solver.wrap_turn import LEAST_GAP

_NOT_MAGNETIC = 1e-3
_POWER = 3.4
_NEWTON = 2  # steps for a from the place before, where who calls goes on with them
_NO_GAP = 1e-300  # of D^n: less is none
_FIELD = np.geomspace(1e-3, 1e10, 600)  # inside the wire, A/m


@dataclass(frozen=True, kw_only=True, eq=False)
class Turns:
    """What the gaps between a wrap's turns do to its wire, whatever state that is in.

    Attributes
    ----------
    gap_factor, saturation, slope2 : float, or arrays that go with those asked of
        D₀, Ms in A/m, and s².
    """

    gap_factor: float | Array
    saturation: float | Array
    slope2: float | Array

    def first(self, n: int) -> Turns:
        """Those of the first n strings of several."""
        return Turns(**{f.name: np.asarray(getattr(self, f.name))[:n] for f in fields(self)})

    def between_turns(self, chi: Array, whole: Array, start: Array) -> tuple[Array, Array, Array]:
        """a, D and d(D x)/dx, x = M_across/Ms (arrays alike), of a wire in any state.

        Parameters
        ----------
        chi : array
            c = m/h of the wire.
        whole : array
            Modulus of the wire's magnetisation, A/m.
        start : array
            a to begin with.
        """
        a, s2 = start, self.slope2
        per = whole * (np.sqrt(1 - s2) / self.saturation)
        for _ in range(_NEWTON):
            q2 = s2 + (1 - s2) * (a * a)
            factor, grows = _gap_factor_and_slope(self.gap_factor, per * a / np.sqrt(q2))
            again = 1 + factor * chi
            a = a - (a * again - 1) / (again + chi * (grows - factor) * (s2 / q2))
        return a, factor, grows


def turns_together(several: Sequence[Turns]) -> Turns:
    """Those of several strings, each for its own row of places (b, n)."""
    return Turns(**{f.name: np.array([[getattr(turns, f.name)] for turns in several]) for f in fields(Turns)})


@dataclass(frozen=True, kw_only=True, eq=False)
class WrapLaw:
    """Axial law of a wrap, with the interface of a string steel. H is the field along the string.

    Attributes
    ----------
    metal : StringSteel
        Of the wrap wire.
    gap_factor, gap_factor_reversible : float
        D₀ at the initial and at the reversible susceptibility of the metal.
    slope2 : float
        s², sine squared of the turns' slope.
    """

    metal: StringSteel
    gap_factor: float
    gap_factor_reversible: float
    slope2: float
    _table: _Table = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_table", _tabulate(self.metal, self.gap_factor, self.slope2))

    def magnetisation(self, h: npt.ArrayLike) -> tuple[Array, Array]:
        """M per metal volume in A/m and dM/dH at H in A/m; odd in H, any shape."""
        h = np.asarray(h, dtype=float)
        if self.metal.chi_initial < _NOT_MAGNETIC:
            return self.metal.magnetisation(h)
        chi, slope = self.by_modulus(np.abs(h))
        return chi * h, slope

    def by_modulus(self, h: Array) -> tuple[Array, Array]:
        """M/H and dM/dH at moduli H > 0 (…)."""
        if self.metal.chi_initial < _NOT_MAGNETIC:
            return self.metal.by_modulus(h)
        logs = self._table.log_ratio(np.arcsinh(h))
        chi = np.exp(logs[..., 0])
        return chi, chi * (1 + logs[..., 1] * h / np.sqrt(1 + h * h))

    @property
    def turns(self) -> Turns:
        """What of it a wire in any state meets."""
        return Turns(gap_factor=self.gap_factor, saturation=self.metal.saturation, slope2=self.slope2)

    def reversible(self, m: npt.ArrayLike) -> Array:
        """Reversible susceptibility at the axial magnetisation M in A/m of the static curve."""
        axial = np.abs(np.asarray(m, dtype=float)) / self.metal.saturation
        whole = np.interp(axial, self._table.axial, self._table.whole)
        across = np.interp(axial, self._table.axial, self._table.across)
        linear = math.isinf(self.metal.saturation)
        chi = self.metal.reversible(m if linear else whole * self.metal.saturation)
        factor = _gap_factor_slope(self.gap_factor_reversible, across)
        return np.asarray(chi * (self.slope2 + (1 - self.slope2) / (1 + factor * chi)))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Table:
    """States of the static curve: ln M/H and its slope over asinh H; M along the string, along the wire's M, across
    it over Ms."""

    log_ratio: PPoly
    axial: Array
    whole: Array
    across: Array


def _tabulate(metal: StringSteel, gap_factor: float, slope2: float) -> _Table:
    h = np.concatenate([[0.0], _FIELD])
    m = metal.magnetisation(h)[0]
    c = m[1:] / _FIELD
    c = np.concatenate([c[:1], c])
    a = 1 / (1 + gap_factor * c)
    for _ in range(60):  # D follows the part of M across the wire
        outside = h / np.sqrt(slope2 + (1 - slope2) * a**2)
        across = math.sqrt(1 - slope2) * c * a * outside / metal.saturation
        a = (a + 1 / (1 + _gap_factor(gap_factor, across) * c)) / 2
    chi = c * (slope2 + (1 - slope2) * a)
    logs = CubicSpline(np.arcsinh(outside), np.log(np.maximum(chi, 1e-300)))
    slopes = np.pad(logs.derivative().c, ((1, 0), (0, 0)))
    return _Table(
        log_ratio=PPoly(np.stack([logs.c, slopes], axis=-1), logs.x),
        axial=chi * outside / metal.saturation,
        whole=m / metal.saturation,
        across=across,
    )


@lru_cache(maxsize=256)
def wrap_law(metal: StringSteel, gap: float, curvature: float, *, helix: bool = True) -> WrapLaw:
    """Law of a wrap of this metal.

    Parameters
    ----------
    metal : StringSteel
    gap : float
        Clear space between turns as a part of the pitch.
    curvature : float
        Diameter of the wrap wire over the mean diameter of its turns.
    helix : bool
        False for rings, without the path along the wire. With a steel wrap that path is 3…14 % of the whole
        string's moment.
    """
    slope = curvature / (math.pi * (1 - max(gap, LEAST_GAP))) if helix else 0.0
    return WrapLaw(
        metal=metal,
        gap_factor=gap_factor(metal.chi_initial, gap, curvature),
        gap_factor_reversible=gap_factor(metal.chi_reversible, gap, curvature),
        slope2=slope**2,
    )


def gap_factor(chi: float, gap: float, curvature: float) -> float:
    """D₀ = 1/χ_rings − 1/χ of closed turns on a core; 0 for a metal that is not magnetic.

    Smooth in the logarithm of the gap, in the curvature and in 1/χ, so it is read from a table of cells
    (`wrap_cells.toml`) made with :func:`stringflux.solver.wrap_turn.wrap_susceptibility`.
    """
    if chi < _NOT_MAGNETIC:
        return 0.0
    table = _cells()
    at_gap = np.exp(table.spline(np.log(np.clip(gap, LEAST_GAP, 0.5))))  # (curvatures, susceptibilities)
    at_curvature = lagrange(table.curvatures, np.array([curvature]))[0] @ at_gap
    anchors = table.susceptibilities
    return float(lagrange(1 / anchors, np.array([1 / max(chi, anchors[0] / 2)]))[0] @ at_curvature)


@dataclass(frozen=True, kw_only=True)
class _Cells:
    curvatures: Array
    susceptibilities: Array
    spline: CubicSpline


@lru_cache
def _cells() -> _Cells:
    data = tomllib.loads(Path(__file__).with_name("wrap_cells.toml").read_text(encoding="utf-8"))
    return _Cells(curvatures=np.array(data["curvatures"]), susceptibilities=np.array(data["susceptibilities"]),
                  spline=CubicSpline(np.log(data["gaps"]), np.log(data["factors"]), axis=0))


def metal_area(core_radius: float, wrap_diameter: float, gap: float) -> float:
    """Metal of the wrap per length of string, m².

    The turns' slope lengthens the wire and its pitch by the same factor, so it cancels.
    """
    return math.pi**2 / 2 * wrap_diameter * (1 - gap) * (core_radius + wrap_diameter / 2)


def _gap_factor(first: float, part: Array) -> Array:
    saturated = 0.085 * part * (1 + 0.55 * part**4)
    return np.asarray((first**_POWER + saturated**_POWER) ** (1 / _POWER))


def _gap_factor_slope(first: float, part: Array) -> Array:
    """d(D x)/dx, what a small change of M meets."""
    return _gap_factor_and_slope(first, part)[1]


def _gap_factor_and_slope(first: float | Array, part: Array) -> tuple[Array, Array]:
    """D and d(D x)/dx."""
    fourth = np.square(part * part)
    shape = 1 + 0.55 * fourth
    saturated = (0.085 * part * shape) ** _POWER
    both = first**_POWER + saturated
    whole = both ** (1 / _POWER)
    return whole, whole * (1 + saturated / np.maximum(both, _NO_GAP) * ((1 + 2.75 * fourth) / shape))
