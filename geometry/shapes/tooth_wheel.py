r"""A toothed wheel before a sensor, as the planar solver sees it: outlines in (x, z), in metres.

The sensor's face lies at z = 0 and its body below. The wheel stands above, its axis along y through (0, g + R) with
the gap g and the outer radius R, so that a tooth passes along +x. An angle of the wheel is counted from −z towards
+x::

    x = ρ sin φ,   z = g + R − ρ cos φ,        one tooth each p = 2π/n

A tooth is `top` of p wide at R, the floor between two is `floor` of p wide at R − h, and the flanks are straight.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, pi, sin

from .section import CoilSides, PlanePart, PlaneShape

_ARC = 6  # chords of an arc in an outline that is drawn


@dataclass(frozen=True, kw_only=True)
class WheelShape:
    """A wheel with straight-sided teeth.

    Attributes
    ----------
    teeth : int
        n.
    radius : float
        R over the teeth, m.
    height : float
        h of the teeth, m.
    top, floor : float
        Shares of a tooth's angle that its top and the floor beside it take.
    bore : float
        Radius of the bore, which is air, m; 0 for a full disc.
    material : str
    """

    teeth: int
    radius: float
    height: float
    top: float
    floor: float
    bore: float = 0.0
    material: str

    @property
    def angle(self) -> float:
        """p, rad."""
        return 2 * pi / self.teeth

    @property
    def pitch(self) -> float:
        """From tooth to tooth along the outer circle, m."""
        return self.angle * self.radius

    @property
    def root(self) -> float:
        """Radius of the floors, m."""
        return self.radius - self.height

    def place(self, rho: float, phi: float, gap: float) -> tuple[float, float]:
        """(x, z) of a point of the wheel, m."""
        return rho * sin(phi), gap + self.radius - rho * cos(phi)

    def outline(self, gap: float, turned: float = 0.0) -> tuple[tuple[float, float], ...]:
        """The toothed rim as a polygon, turned by `turned` rad, for drawing and for the size of the part."""
        half_top, half_root = self.top * self.angle / 2, (1 - self.floor) * self.angle / 2
        corners = []
        for k in range(self.teeth):
            middle = k * self.angle + turned
            arc = [middle + half_top * (2 * i / _ARC - 1) for i in range(_ARC + 1)]
            low = [middle + half_root + self.floor * self.angle * i / _ARC for i in range(_ARC + 1)]
            corners += [self.place(self.radius, phi, gap) for phi in arc]
            corners += [self.place(self.root, phi, gap) for phi in low]
        return tuple(corners)


@dataclass(frozen=True, kw_only=True)
class WheelSensor:
    """A bar magnet, perhaps with a pole piece before it, and a coil, all about x = 0 with the face at z = 0.

    Attributes
    ----------
    bars : tuple of PlanePart
        The magnet, and the pole piece if there is one.
    coil : CoilSides
        Its sense is the sign of `coil.turns`.
    length : float
        Of everything along y, m: what fields of the plane are multiplied with.
    """

    bars: tuple[PlanePart, ...]
    coil: CoilSides
    length: float


@dataclass(frozen=True, kw_only=True)
class WheelBuild:
    """Wheel, sensor and the gap between tooth and face, m. Hashable: equal ones share their mesh."""

    wheel: WheelShape
    sensor: WheelSensor
    gap: float

    @property
    def shape(self) -> PlaneShape:
        """The bars of the sensor, and the wheel last."""
        wheel = PlanePart(material=self.wheel.material, outline=self.wheel.outline(self.gap))
        return PlaneShape(parts=(*self.sensor.bars, wheel))

    @property
    def ring(self) -> float:
        """Radius of the circle in the gap on which the wheel's mesh slides, m."""
        return self.wheel.radius + self.gap / 2

    @property
    def centre(self) -> float:
        """Height of the wheel's axis, m."""
        return self.gap + self.wheel.radius

    def at(self, gap: float) -> WheelBuild:
        """The same with another gap, m."""
        return replace(self, gap=gap)
