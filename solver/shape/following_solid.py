"""A build's mesh that follows its bodies: the same tetrahedra, moved, so that a figure does not jump with the mesh.

Nodes on surfaces lie where :mod:`stringflux.geometry.mesh.solid_places` puts them. Inside bodies and air the
displacement is harmonic in a medium that is as stiff as its elements are small, so that the fine ones keep their form
and the coarse ones give way; on planes of symmetry it has no part across, the far boundary stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_matrix

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.solid import SolidMesh, least_jacobians, solid_mesh, volume
from stringflux.geometry.mesh.solid_places import OtherPlanError, SolidPlaces
from stringflux.geometry.mesh.solid_quality import SolidQuality
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.symmetry import Symmetry

from ..factor import factor
from .following_mesh import FoldedMeshError

Ints = npt.NDArray[np.int64]

LEAST_SHARE = 0.15  # of an element's scaled Jacobian before the move


@dataclass(frozen=True, kw_only=True, eq=False)
class FollowingSolid:
    """The mesh of `bodies` that follows others which are put together in the same way.

    Attributes
    ----------
    bodies : tuple of SolidBody
        At which the mesh is made.
    quality : SolidQuality
    symmetry : Symmetry
        Of all bodies that it will follow.
    """

    bodies: tuple[SolidBody, ...]
    quality: SolidQuality
    symmetry: Symmetry

    @cached_property
    def mesh(self) -> SolidMesh:
        return solid_mesh(tuple(b.bare for b in self.bodies), self.quality, symmetry=self.symmetry)

    @cached_property
    def places(self) -> SolidPlaces:
        return SolidPlaces(mesh=self.mesh, bodies=self.bodies, quality=self.quality)

    def nodes(self, bodies: Sequence[SolidBody]) -> Array:
        """Vertices, then middles of edges (3, n) on other bodies, m, whatever becomes of the elements.

        Raises
        ------
        FoldedMeshError
            When those are put together in another way.
        """
        try:
            move = self.places.at(bodies)
        except OtherPlanError as error:
            raise FoldedMeshError(str(error)) from error
        n = self.mesh.points.shape[1]
        for axis in range(3):
            fixed, free, solve, coupling = self._extension[axis]
            move[axis, free] = solve(-(coupling @ move[axis, fixed]))
        loose = n + np.flatnonzero(~self.places.held[n:])
        move[:, loose] = move[:, self.places.ends[:, loose - n]].mean(axis=1)
        return self.places.nodes + move

    def moved(self, bodies: Sequence[SolidBody]) -> SolidMesh:
        """The mesh of near bodies.

        Raises
        ------
        FoldedMeshError
            When they are too far, or put together in another way.
        """
        n = self.mesh.points.shape[1]
        nodes = self.nodes(bodies)
        mesh = replace(self.mesh, points=nodes[:, :n], middles=nodes[:, n:], lies=None)
        if np.any(least_jacobians(mesh) < LEAST_SHARE * self._jacobians):
            raise FoldedMeshError("the mesh cannot follow so far; it has to be made anew")
        return mesh

    @cached_property
    def _jacobians(self) -> Array:
        return least_jacobians(self.mesh)

    @cached_property
    def _extension(self) -> tuple[tuple[Any, Any, Any, Any], ...]:
        """For x, y and z: vertices that are given and free, the solve for the free ones, what couples them."""
        points = self.mesh.points
        stiffness = _stiffness(points, self.mesh.tetrahedra)
        held = self.places.held[:points.shape[1]]
        out, known = [], dict[bytes, tuple[Any, Any, Any, Any]]()
        for axis in range(3):
            given = held.copy()
            if axis in self.mesh.planes:
                given[self.mesh.planes[axis].ravel()] = True
            if given.tobytes() not in known:
                fixed, free = np.flatnonzero(given), np.flatnonzero(~given)
                known[given.tobytes()] = (fixed, free, factor(stiffness[free][:, free].tocsc()).solve,
                                          stiffness[free][:, fixed])
            out.append(known[given.tobytes()])
        return tuple(out)


def _stiffness(points: Array, tetrahedra: Ints) -> Any:
    """∫ ∇u·∇w / volume over straight tetrahedra: small elements are stiff."""
    a, b, c, d = (points[:, corner] for corner in tetrahedra)
    six = 6 * np.abs(volume(points, tetrahedra))
    # the gradient of each corner's function is the normal of the face across from it, of the face's size
    one, two, three = (np.cross(p - a, q - a, axis=0) / six for p, q in ((c, d), (d, b), (b, c)))
    gradient = np.stack([-(one + two + three), one, two, three])
    local = np.einsum("acm,bcm->abm", gradient, gradient)
    rows = np.broadcast_to(tetrahedra[:, None], local.shape)
    columns = np.broadcast_to(tetrahedra[None], local.shape)
    n = points.shape[1]
    return coo_matrix((local.ravel(), (rows.ravel(), columns.ravel())), shape=(n, n)).tocsr()
