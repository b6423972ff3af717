"""Volume of a part of a meshed section, and its derivative with the nodes' places."""

from __future__ import annotations

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.pole import SectionMesh


def part_volume(mesh: SectionMesh, part: int) -> tuple[float, Array]:
    """Volume of the body of revolution, m³ (Pappus over its triangles), and ∂/∂(r, z) of the nodes, (2, n) in m²."""
    t = mesh.triangles[:, mesh.region == part]
    r, z = mesh.points[:, t]
    double = (r[1] - r[0]) * (z[2] - z[0]) - (r[2] - r[0]) * (z[1] - z[0])
    sign, total = np.sign(double), r.sum(axis=0)
    slopes = np.zeros_like(mesh.points)
    for a in range(3):
        b, c = (a + 1) % 3, (a + 2) % 3
        by_r = sign * (total * (z[b] - z[c]) + double)
        by_z = sign * total * (r[c] - r[b])
        for row, values in zip(slopes, (by_r, by_z), strict=True):
            row += np.pi / 3 * np.bincount(t[a], values, minlength=row.size)
    return float(np.pi / 3 * np.sum(np.abs(double) * total)), slopes
