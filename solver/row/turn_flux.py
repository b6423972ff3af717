r"""The flux of a row's magnets through a turn of the coil round it, the mean over the winding.

Of each pole's own field (:mod:`.everywhere`) what goes through the plane of a turn, in polar coordinates about the
pole's axis, is an integral round the turn::

    Φ = ∫ B_z dA = Σ_m ∮ G_m(r) cos mα dα        G_m(r) = ∫₀^r B_z,m(r') r' dr'

so that the jump of B_z at the wall of a pole costs nothing. Gauss points go over the section of the winding.

References
----------
Derived here.
"""

from __future__ import annotations

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import Racetrack

from ..coil.over_section import over_section
from .everywhere import Everywhere

_FINE, _COARSE = 0.5e-6, 20e-6  # m, between the radii of G: over the pole, where B_z jumps, and beside it
_ROUND = 1200  # points of a turn
_HEIGHTS, _BUILDS, _IN_SLICES = 5, 4, 3


def turn_flux(everywhere: Everywhere, coil: Racetrack) -> float:
    """Wb, positive upwards."""
    points = over_section(coil, _BUILDS, _HEIGHTS if len(coil.slices) == 1 else _IN_SLICES)
    levels = [(z[0], [(part, _turn(coil, coil.inner_radius + at)) for at, part in zip(u, w, strict=True)])
              for u, z, w in zip(*(p.reshape(-1, _BUILDS) for p in points), strict=True)]
    farthest = max(float(np.hypot(x, y - place.y).max())
                   for _, turns in levels for _, (x, y) in turns for place in everywhere.places)
    total = 0.0
    for z, turns in levels:
        for place, own in zip(everywhere.places, everywhere.own, strict=True):
            wall = place.shape.radius + _COARSE
            r = np.concatenate([np.arange(0.0, wall, _FINE), np.arange(wall, farthest + 2 * _COARSE, _COARSE)])
            b = own.fields.at(r, np.full(r.size, z - place.face), own.values)[0][:, 2]
            steps = (b[:, 1:] * r[1:] + b[:, :-1] * r[:-1]) / 2 * np.diff(r)
            G = np.concatenate([np.zeros((len(b), 1)), np.cumsum(steps, axis=1)], axis=1)
            for weight, (x, y) in turns:
                total += weight * _round(r, G, x, y - place.y)
    return total


def _round(r: Array, G: Array, x: Array, y: Array) -> float:
    """Σ_m ∮ G_m cos mα dα round a closed turn (n,) about a pole's axis; α from +y, counter-clockwise from above."""
    angle = np.unwrap(np.arctan2(-x, y))
    angle = np.append(angle, angle[0] + 2 * np.pi * round((angle[-1] - angle[0]) / (2 * np.pi)))
    radius = np.append(np.hypot(x, y), np.hypot(x[0], y[0]))
    mean = (angle[1:] + angle[:-1]) / 2
    at = np.array([np.interp((radius[1:] + radius[:-1]) / 2, r, g) for g in G])
    return float(np.sum(at * np.cos(np.multiply.outer(np.arange(len(G)), mean)) * np.diff(angle)))


def _turn(coil: Racetrack, radius: float) -> tuple[Array, Array]:
    """Points (n,) of a turn, x and y, m, counter-clockwise seen from above."""
    half, arc = coil.straight / 2, np.pi * radius
    s = np.arange(_ROUND) / _ROUND * 2 * (arc + coil.straight)
    side = s % (arc + coil.straight)  # a straight side up, then the half circle at its end
    turned = np.clip(side - coil.straight, 0.0, None) / radius
    x, y = radius * np.cos(turned), np.minimum(side, coil.straight) - half + radius * np.sin(turned)
    back = np.where(s < arc + coil.straight, 1.0, -1.0)
    return coil.x_centre + back * x, coil.y_centre + back * y
