"""Where the nodes on the surfaces of a mesh lie on other bodies that are put together in the same way.

Corners go to corners. Nodes on an edge keep their share of its parameter. On a face the displacement of its rim goes
on harmonically, with the weights of the face's own triangles, which leave flat faces flat; on round faces the nodes
are then brought to the nearest place. Middles of edges stand half way, off by as much of the face's bulge as before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu

from ..arrays import Array
from ..errors import StringfluxError
from ..kernel.session import gmsh_model
from ..shapes.bodies import SolidBody
from .nodes_on import NodesOn, plan_of
from .solid import SolidMesh, ball_round, edges_of, fragments
from .solid_quality import SolidQuality

Ints = npt.NDArray[np.int64]
_ON = 1e-12  # m, of a plane of symmetry
_ROUND = 1e-9  # m: a smaller bulge is none


class OtherPlanError(StringfluxError):
    """Other bodies touch, or have other faces: the nodes of this mesh have no places on them."""


@dataclass(frozen=True, kw_only=True, eq=False)
class SolidPlaces:
    """Places of the nodes of a mesh on other bodies.

    Attributes
    ----------
    mesh : SolidMesh
        Without strings.
    bodies : tuple of SolidBody
        What it was made of.
    quality : SolidQuality
    """

    mesh: SolidMesh
    bodies: tuple[SolidBody, ...]
    quality: SolidQuality

    @property
    def nodes(self) -> Array:
        """Vertices, then middles of edges (3, n), m."""
        if self.mesh.middles is None:
            raise ValueError("a mesh with middles of edges is needed")
        return np.concatenate([self.mesh.points, self.mesh.middles], axis=1)

    @cached_property
    def lies(self) -> NodesOn:
        if self.mesh.lies is None:
            raise ValueError("a mesh that says what its nodes lie on is needed")
        return self.mesh.lies

    @cached_property
    def held(self) -> npt.NDArray[np.bool_]:
        """Which nodes have a place: those on surfaces, without what lies inside a plane of symmetry."""
        out = self.lies.dim < 2
        out[np.isin(self.lies.tag, list(self._faces)) & (self.lies.dim == 2)] = True
        out[self._far] = True
        return out

    @cached_property
    def ends(self) -> Ints:
        """The vertices (2, k) at the ends of every edge."""
        return edges_of(self.mesh.tetrahedra, self.mesh.points.shape[1])[0]

    def at(self, bodies: Sequence[SolidBody]) -> Array:
        """Displacements (3, n) of the nodes that are held, m, 0 elsewhere; from where they are on the mesh's bodies.

        Raises
        ------
        OtherPlanError
            When these bodies are put together in another way.
        CaseError
            When two of them intersect.
        """
        full = self._full(bodies)
        n = self.mesh.points.shape[1]
        nodes = self.nodes
        out = np.zeros_like(nodes)
        out[:, :n] = (full - self._own)[:, :n]
        straight = out[:, :n][:, self.ends].mean(axis=1)
        # what stood off the straight edge does so in proportion: a middle may have been drawn back for its elements
        bulge, own = self._bulge(full), self._bulge(self._own)
        size = np.sum(own * own, axis=0)
        there = np.sum(own * self._bulge(nodes), axis=0)
        share = np.where(size > _ROUND**2, there / np.maximum(size, _ROUND**2), 1.0)
        out[:, n:] = straight + share * (bulge - own)
        out[:, ~self.held] = 0.0
        out[:, self._far] = 0.0
        return out

    def _bulge(self, nodes: Array) -> Array:
        n = self.mesh.points.shape[1]
        return np.asarray(nodes[:, n:] - nodes[:, :n][:, self.ends].mean(axis=1))

    @cached_property
    def _own(self) -> Array:
        return self._full(self.bodies)

    @cached_property
    def _far(self) -> npt.NDArray[np.bool_]:
        """Nodes on the far boundary."""
        lies, n = self.lies, self.mesh.points.shape[1]
        vertices = np.zeros(n, bool)
        vertices[self.mesh.far_facets.ravel()] = True
        return np.concatenate([vertices, np.all(vertices[self.ends], axis=0) & (lies.dim[n:] < 3)])

    @cached_property
    def _faces(self) -> dict[int, _Face]:
        """The faces of bodies: not those of the ball, nor on planes of symmetry, whose nodes follow what is round
        them."""
        found = {}
        for tag, triangles in self.lies.triangles.items():
            used = np.unique(triangles)
            on_plane = any(np.all(np.abs(self.mesh.points[axis, used]) < _ON) for axis in self.mesh.symmetry.axes)
            if not on_plane and not np.all(self._far[used]):
                inside = used[(self.lies.dim[used] == 2)]
                found[tag] = _Face(self.mesh.points, triangles, inside)
        return found

    def _full(self, bodies: Sequence[SolidBody]) -> Array:
        """Places of all held nodes (3, n) on the bodies; the others stay."""
        centre, far = ball_round(self.bodies, self.quality, self.mesh.symmetry)
        lies, n = self.lies, self.mesh.points.shape[1]
        out = self.nodes
        with gmsh_model("moved build") as gmsh:
            fragments(gmsh, tuple(b.bare for b in bodies), (), self.mesh.symmetry, centre, far)
            if (plan := plan_of(gmsh)) != lies.plan:
                raise OtherPlanError("the bodies touch or are cut in another way than where the mesh was made")
            model = gmsh.model
            for dim in (0, 1):
                for tag in np.unique(lies.tag[lies.dim == dim]):
                    own = np.flatnonzero((lies.dim == dim) & (lies.tag == tag))
                    where = []
                    if dim == 1:
                        (low,), (high,) = model.getParametrizationBounds(1, tag)
                        where = low + lies.along[own] * (high - low)
                    out[:, own] = np.reshape(model.getValue(dim, tag, where), (-1, 3)).T
            for axis in self.mesh.symmetry.axes:
                out[axis, np.abs(self.nodes[axis]) < _ON] = 0.0
            moved = out[:, :n] - self.mesh.points
            for tag, face in self._faces.items():
                face.go_on(moved)
                out[:, face.inside] = self.mesh.points[:, face.inside] + moved[:, face.inside]
                middles = n + np.flatnonzero((lies.dim[n:] == 2) & (lies.tag[n:] == tag))
                out[:, middles] = out[:, self.ends[:, middles - n]].mean(axis=1)
                if plan.faces[tag][0] != "Plane":
                    own = np.concatenate([face.inside, middles])
                    if own.size:
                        near, _ = model.getClosestPoint(2, tag, out[:, own].T.ravel())
                        out[:, own] = np.reshape(near, (-1, 3)).T
        return out


class _Face:
    """A face whose rim moves."""

    def __init__(self, points: Array, triangles: Ints, inside: Ints) -> None:
        self.inside = inside
        self.rim = np.setdiff1d(np.unique(triangles), inside)
        matrix = _laplace(points, triangles)
        self._coupling = matrix[inside][:, self.rim]
        self._solve: Any = splu(matrix[inside][:, inside].tocsc(), diag_pivot_thresh=0.0) if inside.size else None

    def go_on(self, moved: Array) -> None:
        """Fill in the displacements (3, n) of the nodes inside from those on the rim."""
        if self.inside.size:
            load = np.ascontiguousarray(-(self._coupling @ moved[:, self.rim].T))
            moved[:, self.inside] = self._solve.solve(load).T


def _laplace(points: Array, triangles: Ints) -> Any:
    """∫ ∇u·∇w over flat triangles in space."""
    corner = points[:, triangles]
    opposite = corner[:, [2, 0, 1]] - corner[:, [1, 2, 0]]
    double = np.linalg.norm(np.cross(opposite[:, 1], opposite[:, 2], axis=0), axis=0)
    local = np.einsum("cam,cbm->abm", opposite, opposite) / (2 * double)
    rows = np.broadcast_to(triangles[:, None], local.shape)
    columns = np.broadcast_to(triangles[None], local.shape)
    n = points.shape[1]
    return coo_matrix((local.ravel(), (rows.ravel(), columns.ravel())), shape=(n, n)).tocsr()
