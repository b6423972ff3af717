"""Poles of a row as one slab: how thick it is for the same capacitance to the winding round them.

Seen from above, rods of radius R stand at a spacing p between the two straight sides of the winding, a from the row's
line; the outermost two have half a turn's round end about them. By finite elements on a quarter of a rod's room:

    c = C of one rod to both sides, F per metre of height;   n rods: (n − 1) c + 2π ε₀/ln(a/R)

the last the two half circles as one coaxial pair. A slab whose sides are u from the line, with round ends about the
same centres, has ε₀ (2 s/(a − u) + 2π/ln(a/u)), s the straight side.

References
----------
Derived here. For thin rods c goes to 2π ε₀/ln(4a/πR), a wire midway between plates (Smythe, *Static and Dynamic
Electricity*, §4; from memory).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.optimize import brentq
from scipy.sparse.linalg import spsolve
from skfem import Basis, BilinearForm, ElementTriP2, MeshTri
from skfem.helpers import dot, grad

from .cell import EPSILON_0
from .fan import fan, joined


@BilinearForm
def _energy(u: Any, v: Any, w: Any) -> Any:
    return dot(grad(u), grad(v))


def rod_to_walls(*, radius: float, wall: float, spacing: float, angles: int = 24, rings: int = 6) -> float:
    """c, F per metre of a rod's height, air between.

    Parameters
    ----------
    radius, wall, spacing : float
        R, a and p, m, with R < a and 2 R < p.
    angles, rings : int
        Steps of angle on either side of the corner, rings of elements.

    Examples
    --------
    >>> thin = rod_to_walls(radius=0.05e-3, wall=2.5e-3, spacing=40e-3)
    >>> round(float(thin / (2 * np.pi * EPSILON_0 / np.log(4 * 2.5 / (np.pi * 0.05)))), 1)
    1.0
    """
    r, a, half = radius / spacing, wall / spacing, 0.5
    corner = np.arctan2(a, half)
    theta = np.concatenate([np.linspace(0, corner, angles + 1), np.linspace(corner, np.pi / 2, angles + 1)[1:]])
    out = np.minimum(half / np.maximum(np.cos(theta), 1e-300), a / np.maximum(np.sin(theta), 1e-300))
    share = np.linspace(0, 1, rings + 1)[:, None]
    ratio = out / r
    radii = r * np.where(ratio > 3, ratio**share, 1 + share * (ratio - 1))  # far walls: closer rings at the rod
    points, triangles, _ = joined(*fan(radii, theta))
    basis = Basis(MeshTri(points, triangles), ElementTriP2(), intorder=2)
    matrix = _energy.assemble(basis)
    x, y = basis.doflocs
    rod, walls = np.hypot(x, y) < r * (1 + 1e-9), y > a - 1e-9
    v = np.where(rod, 1.0, 0.0)
    free = np.flatnonzero(~(rod | walls))
    v[free] = spsolve(matrix[free][:, free].tocsc(), -(matrix @ v)[free])
    return float(4 * EPSILON_0 * (v @ matrix @ v))


def slab_for_rods(*, radius: float, wall: float, spacing: float, count: int, straight: float) -> float:
    """Half the thickness u of the slab, m; the radius itself for one rod in a round coil.

    Raises
    ------
    ValueError
        If the rods do not fit between the walls.
    """
    if not 0 < radius < wall:
        raise ValueError(f"received rods of radius {radius} between walls at {wall}; write 0 < radius < wall")
    total = 2 * np.pi / np.log(wall / radius)
    if count > 1 and straight > 0:
        total += (count - 1) * rod_to_walls(radius=radius, wall=wall, spacing=spacing) / EPSILON_0

    def more(u: float) -> float:
        return float(2 * straight / (wall - u) + 2 * np.pi / np.log(wall / u) - total)

    low, high = 1e-6 * wall, wall * (1 - 1e-9)
    return float(brentq(more, low, high)) if more(low) < 0 else low
