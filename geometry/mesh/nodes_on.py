"""What each node of a mesh lies on: a point, curve, face or volume of the kernel's model, and where on a curve.

So the nodes can be placed on another model that is put together in the same way, of bodies with other sizes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ..arrays import Array

Ints = npt.NDArray[np.int64]
TRIANGLE = 9
"""gmsh's number of those with six nodes."""


@dataclass(frozen=True, kw_only=True)
class ModelPlan:
    """How a model is put together, without its sizes.

    Attributes
    ----------
    curves : dict
        Of every curve its kind and its end points, in their order along it; a closed one has the same twice.
    faces : dict
        Of every face its kind and its curves.
    volumes : dict
        Of every volume its faces.
    """

    curves: dict[int, tuple[str, int, int]]
    faces: dict[int, tuple[str, tuple[int, ...]]]
    volumes: dict[int, tuple[int, ...]]


@dataclass(frozen=True, kw_only=True, eq=False)
class NodesOn:
    """What the nodes of a mesh, vertices and then middles of edges, lie on.

    Attributes
    ----------
    dim, tag : int arrays (n,)
        0 a point, 1 a curve, 2 a face, 3 a volume, and its number.
    along : array (n,)
        Of nodes on curves the share of the curve's parameter, 0…1.
    triangles : dict
        Of every face its triangles (3, k) of vertices.
    plan : ModelPlan
    """

    dim: Ints
    tag: Ints
    along: Array
    triangles: dict[int, Ints]
    plan: ModelPlan


def plan_of(gmsh: Any) -> ModelPlan:
    """The plan of the model that is open."""
    model = gmsh.model
    curves = {}
    for _, tag in model.getEntities(1):
        ends = [t for _, t in model.getBoundary([(1, tag)], combined=False, oriented=False)] or [0]
        first, last = ends[0], ends[-1]
        if first != last:
            start = model.getValue(1, tag, [model.getParametrizationBounds(1, tag)[0][0]])
            if _apart(start, model.getValue(0, first, [])) > _apart(start, model.getValue(0, last, [])):
                first, last = last, first
        curves[tag] = (model.getType(1, tag), first, last)
    faces, volumes = {}, {}
    for _, tag in model.getEntities(2):
        rim = model.getBoundary([(2, tag)], combined=False, oriented=False)
        faces[tag] = (model.getType(2, tag), tuple(sorted({t for _, t in rim})))
    for _, tag in model.getEntities(3):
        volumes[tag] = tuple(sorted({t for _, t in model.getBoundary([(3, tag)], combined=False, oriented=False)}))
    return ModelPlan(curves=curves, faces=faces, volumes=volumes)


def nodes_on(gmsh: Any, order: Ints, numbers: Ints, within: Ints, vertices: int) -> NodesOn:
    """What the nodes of the mesh that is open lie on.

    Parameters
    ----------
    order : int array
        Of the kernel's tags of nodes their numbers in its list.
    numbers : int array (n,)
        Of the mesh's nodes their numbers in the kernel's list, −1 where it has none; the first `vertices` of them
        are vertices.
    within : int array (n,)
        A volume that each is in.
    """
    model, mesh = gmsh.model, gmsh.model.mesh
    size = int(order.max()) + 1
    dim, tag, along = np.full(size, 3), np.zeros(size, dtype=np.int64), np.zeros(size)
    for d, t in (e for e in model.getEntities() if e[0] < 3):
        nodes, _, where = mesh.getNodes(d, t, includeBoundary=False, returnParametricCoord=d == 1)
        own = order[nodes.astype(int)]
        dim[own], tag[own] = d, t
        if d == 1:
            (low,), (high,) = model.getParametrizationBounds(1, t)
            along[own] = (where - low) / (high - low)
    mine = np.full(size, -1)
    mine[numbers[:vertices]] = np.arange(vertices)
    triangles, plan = {}, plan_of(gmsh)
    for t in {face for faces in plan.volumes.values() for face in faces}:  # cuts may leave faces of nothing
        six = mesh.getElementsByType(TRIANGLE, t)[1].astype(int).reshape(-1, 6)
        triangles[t] = np.ascontiguousarray(mine[order[six[:, :3]]].T)
    dim = np.where(numbers >= 0, dim[numbers], 3)
    return NodesOn(dim=dim, tag=np.where(dim == 3, within, tag[numbers]), triangles=triangles, plan=plan,
                   along=np.where(dim == 1, along[numbers], 0.0))


def _apart(one: Any, other: Any) -> float:
    return float(np.linalg.norm(np.asarray(one) - np.asarray(other)))
