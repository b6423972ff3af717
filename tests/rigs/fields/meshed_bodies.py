"""Bodies that tests mesh, and the volume of what a mesh made of them."""

from __future__ import annotations

import numpy as np

from stringflux.geometry.mesh.solid import SolidMesh, edges_of
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.geometry.mesh.string_rod import StringRod
from stringflux.geometry.shapes.bodies import Box, Point, Revolved, SolidBody

DRAFT, NORMAL = SOLID_QUALITIES["draft"], SOLID_QUALITIES["normal"]
EXACT = 1e-9  # of what has flat faces alone
CURVED = 1e-4  # of round bodies at `normal`; measured 5e-5
STRINGS = 3e-4  # parabolas over 30°: 1.6e-4; gmsh's own points on the edges: 6e-3
R, LONG = 2.4e-3, 17e-3
WAYS = (False, True)


def rod(name: str = "rod", x: float = 0.0, y: float = 0.0, way: Point | None = (0.0, 0.0, 1.0)) -> SolidBody:
    return SolidBody(name=name, material="alnico-5", magnetisation=way,
                     form=Revolved(outline=((0.0, -LONG), (R, -LONG), (R, 0.0), (0.0, 0.0)), x=x, y=y))


def box(name: str, low: Point, high: Point, way: Point | None = None, material: str = "steel-1008") -> SolidBody:
    return SolidBody(name=name, material=material, form=Box(low=low, high=high), magnetisation=way)


BLADE = box("blade", (-1.5e-3, -8e-3, -9e-3), (1.5e-3, 8e-3, 0.0))
BAR = box("bar", (-3e-3, -8e-3, -14e-3), (3e-3, 8e-3, -9e-3), (1.0, 0.0, 0.0), "ceramic-8")
PAIR = (BLADE, BAR)
STUB = box("stub", (-2e-3, -2e-3, -4e-3), (2e-3, 2e-3, 0.0))
STRING = StringRod(y=1e-3, z=3e-3, radius=0.215e-3, half_length=6e-3, slope=0.02)


def region_volume(mesh: SolidMesh, region: int) -> float:
    """Of tetrahedra with parabolic edges: ∫ det(∂x/∂λ) by the rule of four points, exact for squares, and the
    determinant of a curved element is nearly that."""
    assert mesh.middles is not None
    own = mesh.region == region
    _, number = edges_of(mesh.tetrahedra, mesh.points.shape[1])
    ten = np.concatenate([mesh.points[:, mesh.tetrahedra[:, own]], mesh.middles[:, number[:, own]]], axis=1)
    d = np.concatenate([-np.ones((1, 3)), np.eye(3)])
    a, b = 0.1381966011250105, 0.5854101966249685
    total = 0.0
    for corner in range(4):
        lam = np.full(4, a)
        lam[corner] = b
        slopes = [(4 * v - 1) * g for v, g in zip(lam, d, strict=True)]
        slopes += [4 * (lam[i] * d[j] + lam[j] * d[i]) for i, j in ((0, 1), (1, 2), (0, 2), (0, 3), (1, 3), (2, 3))]
        total += float(np.linalg.det(np.einsum("inm,nj->mij", ten, np.array(slopes))).sum()) / 24
    return total
