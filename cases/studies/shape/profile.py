r"""A tip as a smooth curve through control points: its heights, its curvature, what a lathe makes of it.

Control heights p_j stand at radii c_j from the axis to the rim. The curve z(r) is the cubic spline through them
that leaves the axis level (z'(0) = 0, else a tip has a spike) and ends without curvature at the rim. A spline is
linear in its heights::

    z(r) = A(r) p,     z'(r) = A'(r) p,     z''(r) = A''(r) p,     1/R = z'' / (1 + z'²)^(3/2)

1/R: curvature of the half section, 1/m; positive in hollows. Lengths in m, z = 0 is the face of the case's pole.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from scipy.interpolate import CubicSpline

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.profiles import Edge

SEGMENTS = 24  # of the edge that is meshed, more for many control points
MOST_CONTROLS = 50
_PLACES = 49  # at which curvature and height are held to their limits, more for many control points
_CLOSE, _APART = 0.08e-3, 0.35e-3  # how close together, and how far apart, a turned profile's points lie, m


@dataclass(frozen=True, kw_only=True)
class ProfileCurve:
    """Splines through `count` control points over a tip of `radius`.

    Attributes
    ----------
    radius : float
        Of the tip, m.
    count : int
        Control points, axis and rim among them; at least 3.
    """

    radius: float
    count: int

    @cached_property
    def controls(self) -> Array:
        """Radii c_j (count,), m."""
        return np.linspace(0.0, self.radius, self.count)

    @cached_property
    def radii(self) -> Array:
        """Radii of the edge's points, the control points' own among them."""
        pieces = max(1, round(SEGMENTS / (self.count - 1)))
        inner = [np.linspace(a, b, pieces, endpoint=False) for a, b in pairwise(self.controls)]
        return np.concatenate([*inner, [self.radius]])

    @cached_property
    def heights(self) -> Array:
        """A at `radii`, (points, count)."""
        return np.asarray(self._basis(self.radii))

    @cached_property
    def _dense(self) -> tuple[Array, Array, Array]:
        r = np.linspace(0, self.radius, max(_PLACES, 3 * self.count))
        return np.asarray(self._basis(r)), np.asarray(self._basis(r, 1)), np.asarray(self._basis(r, 2))

    @cached_property
    def _basis(self) -> CubicSpline:
        return CubicSpline(self.controls, np.eye(self.count), bc_type=("clamped", "natural"))

    def between(self, p: Array) -> Array:
        """Heights at places close together, m."""
        return np.asarray(self._dense[0] @ p)

    def curvature(self, p: Array) -> Array:
        """1/R at the same places, 1/m."""
        _, slope, bend = self._dense
        return np.asarray((bend @ p) / (1 + (slope @ p) ** 2) ** 1.5)

    def edge(self, p: Array) -> Edge:
        """The edge that is meshed, not shifted: its highest point may lie below 0."""
        return tuple(zip(map(float, self.radii), map(float, self.heights @ p), strict=True))

    def fitted(self, edge: Edge) -> Array:
        """Control heights of an edge: its own at the control radii."""
        r, z = np.array(edge).T
        return np.asarray(np.interp(self.controls, r, z))

    def turned(self, p: Array, step: float, lean: float = 0.0) -> Edge:
        """What a lathe with dials of `step` turns: radii and heights whole steps, straight between.

        Points are put where the curve is nearest to a whole step, so they lie at most half a step from it. The
        highest is the face, z = 0; the rim keeps its exact radius. `lean` is added before rounding, in steps: −½ puts
        points on the curve or under it, ½ on it or over it, except at the face.
        """
        near, far = (max(n * step, d, self.radius / m) for n, d, m in ((2, _CLOSE, 60), (7, _APART, 25)))
        dial = np.append(np.arange(0.0, self.radius - near / 2, step), self.radius)
        z = np.asarray(self._basis(dial)) @ p
        z = z - z.max()
        # what is nearly level with the face stays so, whichever way the rest leans
        whole = np.minimum(np.round(z / step + lean * (z < -0.25 * step)), 0.0) * step
        chosen = [0]
        while chosen[-1] < dial.size - 1:
            last = chosen[-1]
            ahead = np.flatnonzero((dial >= dial[last] + near * (1 - 1e-9)) & (dial <= dial[last] + far * (1 + 1e-9)))
            if ahead.size == 0:
                ahead = np.array([dial.size - 1])
            off = [max(abs(whole[j] - z[j]), self._bulge(dial, z, whole, last, int(j))) for j in ahead]
            chosen.append(int(ahead[int(np.argmin(np.array(off) - 0.02 * step * (ahead - last)))]))
        whole -= whole[chosen].max()
        return tuple((round(float(dial[j]), 9), round(float(whole[j]), 9) + 0.0) for j in chosen)

    @staticmethod
    def _bulge(r: Array, z: Array, whole: Array, i: int, j: int) -> float:
        """How far the curve stands off the straight line between two points."""
        line = np.interp(r[i:j + 1], r[[i, j]], whole[[i, j]])
        return float(np.max(np.abs(z[i:j + 1] - line)))
