"""B₀ and b along a string, tabulated for all positions it may take.

Two lattices: the fields of what is close by at every node of the string, and those of all else and of the coil in
air, which are smoother, on fewer places, spread over the nodes by splines. Averages round the string's surface
are taken from the lattice afterwards: n points leave out (a/d)^n of what a source at the distance d makes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import make_interp_spline

from stringflux.geometry.arrays import Array
from stringflux.solver.interpolation import chebyshev
from stringflux.solver.seam import StringField

from .lattice import Lattice

_MEAN, _SAMPLED = 1e-4, 1e-4  # what means round the string and samples over its heights may leave out


@dataclass(frozen=True, kw_only=True)
class Span:
    """Box of string positions to cover: the axis across and up, m, and how many samples each way."""

    y: tuple[float, float]
    z: tuple[float, float]
    ny: int = 6
    nz: int = 6


@dataclass(frozen=True, kw_only=True, eq=False)
class LineFields:
    """Lattices of one string.

    Attributes
    ----------
    near, away : Lattice
        Six components each: B₀ (along, across, normal) in T and b in T/A, of the poles close by and of all else.
    """

    near: Lattice
    away: Lattice

    def at(self, y: Array, z: Array) -> Array:
        """(b, 6, n): B₀ and b at string positions y, z of shape (b,)."""
        return self.near.at(y, z) + self.away.at(y, z)

    def averaged(self, y: Array, z: Array, radius: float) -> Array:
        """Mean over the circle of `radius` round the axis, shape as :meth:`at`."""
        ring = 2 * np.pi * np.arange(n := circle_points(radius, float(np.min(z)) - self.near.floor)) / n
        circle = y[:, None] + radius * np.sin(ring), z[:, None] + radius * np.cos(ring)
        return self.near.mean(*circle) + self.away.mean(*circle)


def circle_points(radius: float, height: float) -> int:
    """How many points round a string's surface are enough for its mean, its axis so far above a face, m."""
    share = min(radius / height, 0.85)
    return int(np.clip(4 * np.ceil(np.log(_MEAN) / np.log(share) / 4), 4, 48))


def line_fields(field: StringField, x: Array, slope: float, span: Span) -> LineFields:
    """Tabulate the fields at nodes x of a string with dz/dx = slope.

    Components are along the string (x, tilted by the slope), across (y) and normal to both.
    """
    middle = sum(span.y) / 2
    close, smooth = field.parts(middle)
    low, high = span.z
    floor = low - max(low - field.places[field.nearest(middle)].face, 0.02 * (high - low))
    # the nearest edge lies at ln x ± iπ/2: how far that is out for the span mapped to −1 … 1 says how many are enough
    out = np.pi / np.log((high - floor) / (low - floor))
    needed = int(np.ceil(-np.log(_SAMPLED) / np.log(out + np.hypot(out, 1.0))))
    y = chebyshev(*span.y, span.ny)
    z = _heights(*span.z, max(span.nz, needed), floor)
    near = _rotate(_sample(close, y, z, x, slope), slope)
    yc, zc = chebyshev(*span.y, min(span.ny, 5)), _heights(*span.z, min(span.nz, 6), floor)
    coarse = _coarse(x, field.spread)
    away = _spread(coarse, _rotate(_sample(smooth, yc, zc, coarse, slope), slope), x)
    return LineFields(near=Lattice(y=y, z=z, values=near, floor=floor),
                      away=Lattice(y=yc, z=zc, values=away, floor=floor))


def _heights(low: float, high: float, n: int, floor: float) -> Array:
    return np.asarray(floor + np.exp(chebyshev(np.log(low - floor), np.log(high - floor), n)))


def _sample(function: Callable[[Array], Array], y: Array, z: Array, x: Array, slope: float) -> Array:
    Y, Z, X = np.meshgrid(y, z, x, indexing="ij")
    values = function(np.stack([X.ravel(), Y.ravel(), (Z + slope * X).ravel()]))
    return np.ascontiguousarray(np.moveaxis(values.reshape(-1, *Y.shape), 0, 2))


def _rotate(values: Array, slope: float) -> Array:
    """Turn (…, 3k, nx) from (x, y, z) to (along, across, normal)."""
    if slope == 0:
        return values
    c, s = 1 / np.hypot(1, slope), slope / np.hypot(1, slope)
    out = values.copy()
    for i in range(0, values.shape[2], 3):
        out[:, :, i] = c * values[:, :, i] + s * values[:, :, i + 2]
        out[:, :, i + 2] = c * values[:, :, i + 2] - s * values[:, :, i]
    return out


def _coarse(x: Array, spread: float) -> Array:
    """Places for the smooth fields: dense over the coils, thin far out; half of them if x starts at 0."""
    half = 6e-3 * np.sinh(np.linspace(0, np.arcsinh((x[-1] - spread) / 6e-3), 18))
    if spread:  # within 0.1 % of b over coils at ± 9 mm, 2 mm and more under the string
        half = np.concatenate([np.linspace(0, spread, _dense(spread), endpoint=False), spread + half])
    half[-1] = x[-1]
    return half if x[0] == 0 else np.concatenate([-half[:0:-1], half])


def _dense(spread: float) -> int:
    return int(np.ceil(spread / 1e-3))


def _spread(coarse: Array, values: Array, x: Array) -> Array:
    if x[0] == 0:  # the component along is odd in x, the others are even
        sign = np.array([-1.0, 1.0, 1.0] * 2)[:, None]
        values = np.concatenate([sign * values[..., :0:-1], values], axis=-1)
        coarse = np.concatenate([-coarse[:0:-1], coarse])
    return np.asarray(make_interp_spline(coarse, values, k=5, axis=-1)(x))
