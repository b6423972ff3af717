r"""Field in air of a square coil with rounded corners, of even current density.

The coil is four straight sides and four quarter arcs about (±c, ±c). With u = x − x', v = y − y', w = z − z',
ρ² = u² + w² and R² = u² + v² + w², the field of a current sheet of one ampere per metre of height is, side along y,

    ∫ dH_x dz' = −[[asinh(v/ρ)]]/4π     ∫ dH_z dz' = −[[atan(v w/(u R))]]/4π

([[ ]]: difference between the ends in y' and in z'), and over an arc, a² = u² + v²,

    ∫ dz'/R³ = −[[w/(a² R)]]            ∫ w dz'/R³ = [[1/R]]

closed in the height; Gauss points do the arc's angle and the build of the winding. Metres and amperes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

_ANGLES = 16
_LAYERS = 8


@dataclass(frozen=True, kw_only=True)
class SquareCoil:
    """A coil about the z axis, even about z = 0.

    Attributes
    ----------
    corner : float
        Distance c of the corners' centres from the planes x = 0 and y = 0, m.
    inner, outer : float
        Radii of the corners inside and outside, m.
    height, current : float
        m and ampere turns.
    """

    corner: float
    inner: float
    outer: float
    height: float
    current: float

    def field(self, points: Array, angles: int = _ANGLES, layers: int = _LAYERS) -> Array:
        """H (3, …) in A/m at points (3, …)."""
        x, y, z = np.reshape(points, (3, -1))
        t, wt = _gauss(layers)
        theta, wa = _gauss(angles)
        total = np.zeros((3, x.size))
        for r, weight in zip(self.inner + t * (self.outer - self.inner), wt, strict=True):
            for quarter in range(4):  # turn the points back instead of the coil on
                p, q = ((x, y), (y, -x), (-x, -y), (-y, x))[quarter]
                hp, hq, hz = self._side(p, q, z, r)
                for angle, share in zip(theta * np.pi / 2, wa * np.pi / 2, strict=True):
                    ap, aq, az = self._arc(p, q, z, r, angle)
                    hp, hq, hz = hp + share * ap, hq + share * aq, hz + share * az
                hx, hy = ((hp, hq), (-hq, hp), (-hp, -hq), (hq, -hp))[quarter]
                total += weight * np.stack([hx, hy, hz])
        return np.reshape(total * (self.current / self.height / (4 * np.pi)), np.shape(points))

    def _ends(self, z: Array) -> tuple[tuple[float, Array], tuple[float, Array]]:
        return (1.0, z - self.height / 2), (-1.0, z + self.height / 2)

    def _side(self, x: Array, y: Array, z: Array, r: float) -> tuple[Array, Array, Array]:
        """The side at x = c + r, current along +y, without 1/4π."""
        u = x - self.corner - r
        hx, hz = np.zeros_like(x), np.zeros_like(x)
        for sv, v in ((1.0, y - self.corner), (-1.0, y + self.corner)):
            for sw, w in self._ends(z):
                s = -sv * sw  # w falls as z' rises, v as y' does: one sign of the two is left by ŷ × r
                hx += s * np.arcsinh(v / np.hypot(u, w))
                hz += s * np.arctan2(v * w * np.sign(u), np.abs(u) * np.sqrt(u * u + v * v + w * w))
        return hx, np.zeros_like(x), hz

    def _arc(self, x: Array, y: Array, z: Array, r: float, angle: float) -> tuple[Array, Array, Array]:
        """Per radian of the arc at (c, c), without 1/4π."""
        c, s = np.cos(angle), np.sin(angle)
        u, v = x - self.corner - r * c, y - self.corner - r * s
        square = u * u + v * v
        over_w, over_one = np.zeros_like(x), np.zeros_like(x)
        for sw, w in self._ends(z):
            R = np.sqrt(square + w * w)
            over_w += sw / R
            over_one -= sw * w / (square * R)
        # (−s, c, 0) × (u, v, w)
        return r * c * over_w, r * s * over_w, -r * (s * v + c * u) * over_one


def _gauss(n: int) -> tuple[Array, Array]:
    x, w = np.polynomial.legendre.leggauss(n)
    return (x + 1) / 2, w / 2
