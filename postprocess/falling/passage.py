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
from stringflux.solver.falling.magnet import MagnetInAir
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


@dataclass(frozen=True, kw_only=True, eq=False)
class Passage:
    """One passage.

    Attributes
    ----------
    case : FallingMagnet
    magnet : MagnetInAir
        Its working point.
    heights, linkage_at : arrays (m,)
        λ over the place of the magnet's middle, weber-turns over m.
    t, z, v : arrays (n,)
        The motion, SI; z up.
    linkage, e : arrays (n,)
        λ in weber-turns and e in V over time.
    first, second : Peak
        Before and after λ is greatest.
    middle : int
        Where in time λ is greatest.
    brake : TubeBrake, optional
        Of the tube.
    anew : arrays (k,), (k,), optional
        With a core: places at which magnet and core were solved together, and that λ over the one of a magnet and a
        core that stay as they are.
    """

    case: FallingMagnet
    magnet: MagnetInAir
    heights: Array
    linkage_at: Array
    t: Array
    z: Array
    v: Array
    linkage: Array
    e: Array
    first: Peak
    second: Peak
    middle: int
    brake: TubeBrake | None = None
    anew: tuple[Array, Array] | None = None

    @property
    def turns(self) -> float:
        return self.case.coil.turns

    @property
    def flux(self) -> Array:
        """Φ per turn over time, Wb, (n,)."""
        return self.linkage / self.turns

    @property
    def reversed_e(self) -> Array:
        """e of the magnet turned round, V, (n,): every moment is the other way, and so is e."""
        return -self.e

    @property
    def steepest(self) -> float:
        """max|dλ/dz|, V per m/s: the peak at one speed over that speed."""
        return float(np.max(np.abs(self._spline.derivative()(np.linspace(self.heights[0], self.heights[-1], 4001)))))

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
    def resistance(self) -> float | None:
        """Of the winding at 20 °C, Ω, if its wire is named."""
        coil = self.case.coil
        wire = coil.winding_wire()
        if wire is None:
            return None
        length = coil.turns * math.pi * (coil.inner_diameter + coil.outer_diameter) / 2
        return RESISTIVITY * length / (math.pi * wire.bare**2 / 4)

    @property
    def terminal_speed(self) -> float | None:
        """m g/k in a long tube, m/s."""
        mass = self.case.magnet.mass
        return None if self.brake is None or mass is None else mass * GRAVITY / self.brake.whole

    def at(self, heights: Array) -> Array:
        """λ with the magnet's middle at heights (n,) on its way, weber-turns."""
        return np.asarray(self._spline(heights))

    def peaks(self) -> Peaks:
        """Other passages: by hand at other speeds, let go from other heights; of a tube this one alone."""
        drop, coil, magnet = self.case.drop, self.case.coil, self.case.magnet
        step = finest(self.case)
        if self.brake is not None:
            return Peaks(starts=np.array([drop.start]), first=(self.first,), second=(self.second,))
        if drop.speed is not None:
            moved = [by_hand(self.case, f * drop.speed) for f in SPEEDS]
        else:
            least = (coil.length + magnet.length) / 2
            moved = [let_go(start, self.case.last, step)
                     for start in sorted({max(f * drop.start, least) for f in STARTS})]
        found = [peaks_of(m, *induced(self._spline, m)) for m in moved]
        return Peaks(starts=np.array([m.z[0] for m in moved]), first=tuple(f[0] for f in found),
                     second=tuple(f[1] for f in found))

    @cached_property
    def _spline(self) -> BSpline:
        return through(self.heights, self.linkage_at)
