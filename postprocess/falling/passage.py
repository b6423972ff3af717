r"""What a moving magnet does to a coil: λ over its place, e over time, peaks and areas.

The coil's current counts from its start to its end; +Φ goes through it as a right hand's thumb if the fingers go with
the winding. So with λ = NΦ ::

    e = −dλ/dt = −λ'(z) v         the coil's end is + of its start where e > 0
    ∫ e dt = λ(at first) − λ(at last) = −N ΔΦ

Both peaks go with the speed there, |e| = |λ'(z)| |v|; at one speed throughout, e_peak = s max|λ'|.

References
----------
Derived here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.demonstrations.falling import FallingMagnet
from stringflux.solver.falling.tube import TubeBrake

from ..coil.winding import RESISTIVITY
from .induced import Peak, induced, peaks_of, through
from .motion import GRAVITY, by_hand, finest, let_go

if TYPE_CHECKING:
    from scipy.interpolate import BSpline

SPEEDS = (0.25, 0.5, 1.0, 1.5, 2.0)
"""Speeds by hand that the peaks are told for, over the case's own."""
STARTS = (0.25, 0.5, 1.0, 2.0, 4.0)
"""Heights that it is let go at, likewise."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Peaks:
    """Peaks of other passages of the same magnet.

    Attributes
    ----------
    starts : array (n,)
        Heights at first, m.
    first, second : tuple of Peak
    """

    starts: Array
    first: tuple[Peak, ...]
    second: tuple[Peak, ...]


@dataclass(frozen=True, kw_only=True)
class WorkingPoint:
    """What a magnet is alone in air; means over it.

    Attributes
    ----------
    magnetisation, demagnetising : float
        M along the axis, north up positive, and H along M, A/m.
    flux_density : float
        B along M, T.
    volume, moment : float
        m³ and A·m².
    permeance : float
        −B/(μ0 H).
    """

    magnetisation: float
    demagnetising: float
    flux_density: float
    volume: float
    moment: float
    permeance: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Passage:
    """One passage.

    Attributes
    ----------
    turns : float
    resistance : float or None
        Of the winding at 20 °C, Ω, if its wire is named.
    mass : float or None
        Of the magnet, kg, if it was weighed.
    magnet : WorkingPoint
    heights, linkage_at : arrays (m,)
        λ over the place of the magnet's middle, weber-turns over m.
    bare_at : array (m,) or None
        With a core: λ without it.
    t, z, v : arrays (n,)
        The motion, SI; z up.
    linkage, e : arrays (n,)
        λ in weber-turns and e in V over time.
    first, second : Peak
        Before and after λ is greatest.
    middle : int
        Where in time λ is greatest.
    others : Peaks
        By hand at other speeds, let go from other heights; of a tube this one alone.
    brake : TubeBrake or None
        Of the tube.
    braked : array (n,) or None
        The tube's brake over time, N·s/m.
    anew : arrays (k,), (k,), or None
        With a core: places at which magnet and core were solved together, m, and that λ over the one of a magnet and
        a core that stay as they are.
    """

    turns: float
    resistance: float | None
    mass: float | None
    magnet: WorkingPoint
    heights: Array
    linkage_at: Array
    bare_at: Array | None
    t: Array
    z: Array
    v: Array
    linkage: Array
    e: Array
    first: Peak
    second: Peak
    middle: int
    others: Peaks
    brake: TubeBrake | None
    braked: Array | None
    anew: tuple[Array, Array] | None

    @property
    def flux(self) -> Array:
        """Φ per turn over time, Wb, (n,)."""
        return self.linkage / self.turns

    @property
    def reversed_e(self) -> Array:
        """e of the magnet turned round, V, (n,): every moment is the other way, and so is e."""
        return -self.e

    @property
    def slope_at(self) -> Array:
        """dλ/dz at `heights`, V per m/s, (m,)."""
        return np.asarray(self._spline.derivative()(self.heights))

    @property
    def steepest(self) -> float:
        """max|dλ/dz|, V per m/s: the peak at one speed over that speed."""
        between = np.linspace(self.heights[:-1], self.heights[1:], 30, axis=1).ravel()
        return float(np.max(np.abs(self.slope(between))))

    @property
    def areas(self) -> tuple[float, float]:
        """∫ e dt before and after the middle, V·s, by summing the voltage."""
        k = self.middle
        return (float(np.trapezoid(self.e[:k + 1], self.t[:k + 1])), float(np.trapezoid(self.e[k:], self.t[k:])))

    @property
    def changes(self) -> tuple[float, float]:
        """−N ΔΦ before and after the middle, weber-turns, by λ alone: what the areas have to be."""
        at_first, at_middle, at_last = self.linkage[[0, self.middle, -1]]
        return float(at_first - at_middle), float(at_middle - at_last)

    @property
    def terminal_speed(self) -> float | None:
        """m g/k in a long tube, m/s."""
        return None if self.brake is None or self.mass is None else self.mass * GRAVITY / self.brake.whole

    def at(self, heights: Array) -> Array:
        """λ with the magnet's middle at heights (n,) on its way, weber-turns."""
        return np.asarray(self._spline(heights))

    def slope(self, heights: Array) -> Array:
        """dλ/dz there, V per m/s."""
        return np.asarray(self._spline.derivative()(heights))

    @cached_property
    def _spline(self) -> BSpline:
        return through(self.heights, self.linkage_at)


def resistance_of(case: FallingMagnet) -> float | None:
    """Of the winding at 20 °C, Ω, if its wire is named: ρ N π D/(π d²/4), D the mean of its diameters."""
    coil = case.coil
    wire = coil.winding_wire()
    if wire is None:
        return None
    length = coil.turns * math.pi * (coil.inner_diameter + coil.outer_diameter) / 2
    return RESISTIVITY * length / (math.pi * wire.bare**2 / 4)


def other_peaks(case: FallingMagnet, heights: Array, linkage_at: Array, own: tuple[Peak, Peak]) -> Peaks:
    """Of the same magnet by hand at other speeds, or let go from other heights; in a tube its own alone."""
    drop, step = case.drop, finest(case)
    if case.tube is not None:
        return Peaks(starts=np.array([drop.start]), first=own[:1], second=own[1:])
    if drop.speed is not None:
        ways = [by_hand(case, f * drop.speed) for f in SPEEDS]
    else:
        least = (case.coil.length + case.magnet.length) / 2
        ways = [let_go(start, case.last, step) for start in sorted({max(f * drop.start, least) for f in STARTS})]
    spline = through(heights, linkage_at)
    found = [peaks_of(way, *induced(spline, way)) for way in ways]
    return Peaks(starts=np.array([way.z[0] for way in ways]), first=tuple(f[0] for f in found),
                 second=tuple(f[1] for f in found))
