"""Meshes for exact solutions: a ball in a ball of air, and a cube of one body."""

from __future__ import annotations

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.kernel.session import gmsh_model
from stringflux.geometry.mesh.solid import SolidMesh
from stringflux.geometry.shapes.symmetry import WHOLE


def ball(radius: float, size: float, far: float = 12.0, growth: float = 0.35) -> SolidMesh:
    """A body of this radius, m, elements of `size` radii, in air out to `far` radii.

    The flat sides of the tetrahedra lie inside the sphere: everything is stretched until the volume is right.
    """
    with gmsh_model("ball") as gmsh:
        occ = gmsh.model.occ
        body, air = (3, occ.addSphere(0, 0, 0, 1)), (3, occ.addSphere(0, 0, 0, far))
        _, pieces = occ.fragment([air], [body])
        occ.synchronize()
        own = {tag for _, tag in pieces[1]}
        skin = [s for _, s in gmsh.model.getBoundary([(3, t) for t in own], oriented=False)]
        field = gmsh.model.mesh.field
        distance, sizes = field.add("Distance"), field.add("MathEval")
        field.setNumbers(distance, "SurfacesList", skin)
        field.setNumber(distance, "Sampling", 40)
        field.setString(sizes, "F", f"{size} + {growth}*F{distance}")
        field.setAsBackgroundMesh(sizes)
        for option in ("MeshSizeFromPoints", "MeshSizeFromCurvature", "MeshSizeExtendFromBoundary"):
            gmsh.option.setNumber(f"Mesh.{option}", 0)
        gmsh.model.mesh.generate(3)
        tags, xyz, _ = gmsh.model.mesh.getNodes()
        order = np.full(int(tags.max()) + 1, -1)
        order[tags.astype(int)] = np.arange(tags.size)
        tetrahedra, region = [], []
        for _, volume in gmsh.model.getEntities(3):
            nodes = order[gmsh.model.mesh.getElementsByType(4, volume)[1].astype(int)].reshape(-1, 4).T
            tetrahedra.append(nodes)
            region.append(np.full(nodes.shape[1], 0 if volume in own else -1))
    mesh = _mesh(np.ascontiguousarray(xyz.reshape(-1, 3).T), np.hstack(tetrahedra), np.concatenate(region))
    scale = (4 * np.pi / 3 / volume_of(mesh, 0)) ** (1 / 3)
    return _mesh(mesh.points * scale * radius, mesh.tetrahedra, mesh.region)


def cube(n: int) -> SolidMesh:
    """The unit cube of one body, n³ cells of six tetrahedra; its surface is the far boundary."""
    grid = np.linspace(0.0, 1.0, n + 1)
    points = np.stack(np.meshgrid(grid, grid, grid, indexing="ij")).reshape(3, -1)
    i, j, k = (a.ravel() for a in np.meshgrid(*(np.arange(n),) * 3, indexing="ij"))

    def at(a: int, b: int, c: int) -> Array:
        return np.asarray(((i + a) * (n + 1) + j + b) * (n + 1) + k + c)

    ways = ((0, 1, 2), (0, 2, 1), (1, 0, 2), (1, 2, 0), (2, 0, 1), (2, 1, 0))
    tetrahedra = []
    for way in ways:  # along one edge after the other, from corner to opposite corner
        corner, nodes = [0, 0, 0], [at(0, 0, 0)]
        for axis in way:
            corner[axis] = 1
            nodes.append(at(*corner))
        tetrahedra.append(np.stack(nodes))
    t = np.hstack(tetrahedra)
    return _mesh(points, t, np.zeros(t.shape[1], int))


def volume_of(mesh: SolidMesh, region: int) -> float:
    """Volume of a region, m³."""
    p = mesh.points[:, mesh.tetrahedra[:, mesh.region == region]]
    a, b, c = (p[:, i] - p[:, 0] for i in (1, 2, 3))
    return float(np.abs(np.einsum("ie,ie->e", a, np.cross(b, c, axis=0))).sum() / 6)


def _mesh(points: Array, tetrahedra: Array, region: Array) -> SolidMesh:
    t = tetrahedra.astype(np.int64)
    sides = np.sort(np.concatenate([t[[0, 1, 2]], t[[0, 1, 3]], t[[0, 2, 3]], t[[1, 2, 3]]], axis=1), axis=0)
    once, count = np.unique(sides, axis=1, return_counts=True)
    p = points[:, t]
    turned = np.einsum("ie,ie->e", np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0], axis=0), p[:, 3] - p[:, 0]) < 0
    t[2:, turned] = t[:1:-1, turned]
    return SolidMesh(points=points, tetrahedra=t, region=region.astype(np.int64), far_facets=once[:, count == 1],
                     planes={}, symmetry=WHOLE)
