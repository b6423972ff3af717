r"""The two straight sides of a coil in air, endless along y: B, A_y and inductance per metre, in closed form.

A rectangle with the current density J along y, with u = x' − x and w = z' − z::

    A_y = −(μ0 J/4π) ∫∫ ln(u² + w²) du dw      B = (−∂A/∂z, ∂A/∂x)
    ∫∫ ln(u² + w²) du dw = u w (ln(u² + w²) − 3) + u² atan(w/u) + w² atan(u/w)         =: F(u, w)
    ∂F/∂u = w ln(u² + w²) − 2 w + 2 u atan(w/u),     ∂F/∂w likewise

(by differentiation; :mod:`.polygon` where the thickness changes along the height). The sides carry −N and +N
ampere-turns per ampere, so nothing is left at infinity.

References
----------
Derived here.
"""

from __future__ import annotations

import math

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.section import CoilSides

from ..constants import MU0
from .over_section import over_section
from .polygon import endless_prism

_TINY = 1e-12  # metres: keeps 0·ln 0 away where a point lies on a corner


def field(coil: CoilSides, points: Array) -> Array:
    """B_x, B_z of the sides in air, T per ampere in the wire, at points (2, ...) in metres; same shape."""
    return np.asarray(_integrate(coil, points)[:2])


def vector_potential(coil: CoilSides, points: Array) -> Array:
    """A_y in T·m per ampere at points (2, ...) in metres; shape (...)."""
    return np.asarray(_integrate(coil, points)[2])


def inductance(coil: CoilSides, other: CoilSides | None = None, n: int = 8) -> float:
    """Inductance in air per metre of length, H/m; with another coil the mutual one.

    λ' = N (mean of A over the side +1 − mean over the side −1). A has continuous first derivatives, so Gauss
    points do: 8 and 24 per direction agree to 1e-5.
    """
    source = coil if other is None else other
    u, z, weight = over_section(coil, n)
    total = sum(side * float(weight @ vector_potential(source, np.stack([coil.centre + side * (coil.inner + u), z])))
                for side in (1, -1))
    return coil.turns * total


def _integrate(coil: CoilSides, points: Array) -> Array:
    """B_x, B_z and A_y stacked."""
    out = np.zeros((3, *points.shape[1:]))
    for side in (1, -1):
        if coil.builds:
            out += side * np.stack(endless_prism(coil.outline(side), *points))
            continue
        (x0, z0), _, (x1, z1), _ = coil.outline(side)
        for su, edge_x in ((-1, x0), (1, x1)):
            for sw, edge_z in ((-1, z0), (1, z1)):
                u, w = edge_x - points[0], edge_z - points[1]
                log = np.log(u * u + w * w + _TINY**2)
                tu, tw = np.arctan2(w, np.abs(u)) * np.sign(u), np.arctan2(u, np.abs(w)) * np.sign(w)
                s = side * su * sw
                out[0] -= s * (u * log - 2 * u + 2 * w * tw)
                out[1] += s * (w * log - 2 * w + 2 * u * tu)
                out[2] -= s * (u * w * (log - 3) + u * u * tu + w * w * tw)
    return out * (MU0 * coil.turns / coil.area / (4 * math.pi))
