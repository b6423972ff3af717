"""The section of a winding: how thick it lies at which height, from its straight inner face outwards.

Turns lie evenly over the section, as many to each mm² everywhere. With the build w(z) between bottom and top::

    S = ∫ w dz      mean distance of the turns from the inner face  ū = ∫ w²/2 dz / S

both exact for a build that runs straight from height to height.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise


@dataclass(frozen=True, kw_only=True)
class WoundSection:
    """What a winding takes beside its inner face.

    Attributes
    ----------
    build : float
        Thickness, m; the greatest one where `builds` say more.
    bottom, top : float
        Heights of its lower and upper face, m.
    builds : tuple of (float, float)
        Heights from bottom to top, rising, and the thickness at each, m, straight between; () for the same thickness
        everywhere.

    Examples
    --------
    >>> cone = WoundSection(build=3e-3, bottom=0.0, top=8e-3, builds=((0.0, 2e-3), (8e-3, 3e-3)))
    >>> round(1e6 * cone.area, 9), round(1e3 * cone.mean_distance, 4), round(1e3 * cone.build_at(4e-3), 9)
    (20.0, 1.2667, 2.5)
    """

    build: float
    bottom: float
    top: float
    builds: tuple[tuple[float, float], ...] = ()

    @property
    def slices(self) -> tuple[tuple[float, float, float, float], ...]:
        """Heights from and to, and the thickness at either, of the pieces with a straight outer face, upwards."""
        ends = self.builds or ((self.bottom, self.build), (self.top, self.build))
        return tuple((z0, z1, w0, w1) for (z0, w0), (z1, w1) in pairwise(ends))

    @property
    def area(self) -> float:
        """S, m²."""
        if not self.builds:
            return self.build * (self.top - self.bottom)
        return sum((z1 - z0) * (w0 + w1) / 2 for z0, z1, w0, w1 in self.slices)

    @property
    def mean_distance(self) -> float:
        """ū, m."""
        if not self.builds:
            return self.build / 2
        return sum((z1 - z0) * (w0 * w0 + w0 * w1 + w1 * w1) / 6 for z0, z1, w0, w1 in self.slices) / self.area

    @property
    def corners(self) -> tuple[tuple[float, float], ...]:
        """The section as a polygon, distance from the inner face and height, anticlockwise."""
        outer = self.builds or ((self.bottom, self.build), (self.top, self.build))
        return ((0.0, self.bottom), *((w, z) for z, w in outer), (0.0, self.top))

    def build_at(self, height: float) -> float:
        """Thickness at a height, m; beyond its faces that at the nearer one."""
        for z0, z1, w0, w1 in self.slices:
            if height <= z1:
                return w0 + (w1 - w0) * max(height - z0, 0.0) / (z1 - z0)
        return self.slices[-1][3]

    def build_between(self, low: float, high: float) -> float:
        """Greatest thickness between two heights, m."""
        inside = [w for z, w in self.builds if low < z < high]
        return max(self.build_at(low), self.build_at(high), *inside) if inside else max(
            self.build_at(low), self.build_at(high))
