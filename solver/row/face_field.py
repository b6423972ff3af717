"""Axial field of a pole's own magnets on its axis above the face, and how far it is known.

Some way off it is the sum over the charges at all unknowns of the pole,

    B_z = (μ0/4π) Σ q ∮ dα ∂/∂z (−1/R)

Closer than a few triangles the single unknowns show (at 0.1 mm the sum is 20 % low on a normal mesh), so there it
is the solution itself, B_z = 2u on the axis (u = A_φ/r), good to 0.2 % down to the face. Between NEAR and FAR the
two are blended.

No published value of μ_⊥ of alnico is at hand, and 1.5 … 6 moves the face field of a rod by 9 %. :func:`face_band`
is the ratio to the nominal value of the pole standing alone.

References
----------
Derived here.
"""

from __future__ import annotations

import numpy as np

from ..constants import MU0
from ..materials.doubt import at_transverse_end
from ..section.bias import BiasCell, BiasState, Tangent
from ..section.space import Section
from .rings import ring_kernel

NEAR, FAR = 0.3e-3, 0.5e-3


def own_axial_field(s: Section, state: BiasState, height: float) -> float:
    """B_z in T on the axis, `height` ≥ 0 over the face (the pole's origin), of this pole alone."""
    share = min(max((height - NEAR) / (FAR - NEAR), 0.0), 1.0)
    total = 0.0
    if share > 0.0:
        r, z = s.nodes[:, s.pole]
        kernel = ring_kernel(np.zeros(1), np.array([height]), r, z, 1, 1)[0, 2, 0]
        total += share * MU0 / (4 * np.pi) * float(kernel @ state.charges[s.pole])
    if share < 1.0:
        total += (1.0 - share) * 2.0 * _on_the_axis(s, state, height)
    return total


def face_band(cell: BiasCell, alone: BiasState, tangent: Tangent, height: float) -> tuple[float, float]:
    """Factors on the axial field `height` over the face for the ends of every magnet's μ_⊥ range."""
    b = own_axial_field(cell.section, alone, height)
    ends = [tuple(at_transverse_end(m, end) for m in cell.materials) for end in (0, 1)]
    if b == 0.0 or ends[0] == ends[1]:
        return 1.0, 1.0
    factors = []
    for changed in ends:
        state = cell.of(changed).solve(start=alone, tolerance=1e-4, tangent=cell.run(tangent))
        factors.append(own_axial_field(cell.section, state, height) / b)
    return min(factors), max(factors)


def _on_the_axis(s: Section, state: BiasState, height: float) -> float:
    """u at (0, height): quadratic along the edge of the triangle there."""
    r, z = s.nodes
    on = np.flatnonzero((np.abs(r) < 1e-12) & (z > s.shape.bottom))
    on = on[np.argsort(z[on])]
    # vertices and the middles of edges take turns; a vertex is one of the mesh's points
    corners = np.sort(s.mesh.points[1][np.abs(s.mesh.points[0]) < 1e-12])
    i = int(np.clip(np.searchsorted(corners, height, side="right") - 1, 0, corners.size - 2))
    a, b = corners[i : i + 2]
    m = (a + b) / 2
    u = [state.u[on[np.argmin(np.abs(z[on] - place))]] for place in (a, m, b)]
    x = (height - a) / (b - a)
    return float(u[0] * (1 - x) * (1 - 2 * x) + u[1] * 4 * x * (1 - x) + u[2] * x * (2 * x - 1))
