r"""P2 functions on the tetrahedra of a build, and what every solve on them shares.

The scalar potential φ with H = −∇φ (+ H of the coils) in A. Tetrahedra are isoparametric: x = Σ N_a x_a over their
ten nodes, so that round bodies are round. Where edges are straight the gradients of the basis functions are linear,
and four points integrate a constant material exactly. Everything is held element by element,

    G (e, q, 3, 10)   gradients of the ten functions at the four points,     w (e, q) weights,

only for the bodies; the air's matrix is assembled once. The far boundary, far out, has φ = 0; on a plane of symmetry
an even potential needs nothing and an odd one φ = 0.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_matrix, csr_matrix

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError
from stringflux.geometry.mesh.solid import EDGES, SolidMesh, edges_of

from ..constants import MU0

Ints = npt.NDArray[np.int64]
_A, _B = 0.5854101966249685, 0.1381966011250105  # four points, exact for squares
QUADRATURE = np.full((4, 4), _B) + (_A - _B) * np.eye(4)
"""Barycentric coordinates of the four points of an element, (q, 4); each has a quarter of its volume's weight."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Elements:
    """Some tetrahedra: their unknowns (10, e), gradients (e, q, 3, 10), weights (e, q) and points (3, e, q)."""

    dofs: Ints
    gradient: Array
    weight: Array
    points: Array

    def field(self, phi: Array) -> Array:
        """∇φ (3, e, q) of a potential (unknowns,)."""
        return np.asarray(np.moveaxis(self.gradient @ phi[self.dofs.T][:, None, :, None], 2, 0)[..., 0])

    def load(self, vector: Array, unknowns: int) -> Array:
        """∫ v·∇w for every w; v (3, e, q)."""
        local = np.einsum("eqcn,ceq->en", self.gradient, vector * self.weight, optimize=True).ravel()
        place = self.dofs.T.ravel()
        out = np.bincount(place, local.real, minlength=unknowns)
        if np.iscomplexobj(local):
            out = out + 1j * np.bincount(place, local.imag, minlength=unknowns)
        return np.asarray(out)

    def local(self, tensor: Array) -> Array:
        """∫ ∇w·T ∇u of every element (e, 10, 10); T (3, 3, e, q), real or complex."""
        e, q = self.weight.shape
        flat = self.gradient.reshape(e, 3 * q, 10)
        turned = np.einsum("ijeq,eqjn->eqin", tensor * self.weight, self.gradient,
                           optimize=True).reshape(e, 3 * q, 10)
        return np.asarray(np.matmul(flat.transpose(0, 2, 1), turned))

    def matrix(self, tensor: Array, unknowns: int) -> csr_matrix:
        """∫ ∇w·T ∇u; T (3, 3, e, q), real or complex."""
        local = self.local(tensor)
        rows = np.repeat(self.dofs.T, 10, axis=1).ravel()
        cols = np.tile(self.dofs.T, (1, 10)).ravel()
        return coo_matrix((local.ravel(), (rows, cols)), shape=(unknowns, unknowns)).tocsr()


@dataclass(frozen=True, kw_only=True, eq=False)
class SolidSpace:
    """P2 on a mesh.

    Attributes
    ----------
    mesh : SolidMesh
    nodes : array (3, n)
        Place of every unknown: vertices, then middles of edges.
    bodies : tuple of Elements
        By region.
    air : csr_matrix
        μ0 ∫ ∇w·∇u over everything outside the bodies.
    edges : int array (2, n − vertices)
        The two vertices of every edge.
    far : int array
        Unknowns on the far boundary.
    planes : dict
        Unknowns on the planes x = 0 (key 0) and y = 0 (key 1) of a mesh that stops there.
    """

    mesh: SolidMesh
    nodes: Array
    bodies: tuple[Elements, ...]
    air: csr_matrix
    edges: Ints
    far: Ints
    planes: dict[int, Ints]
    _kept: dict[str, Any] = field(default_factory=dict)

    @property
    def unknowns(self) -> int:
        return int(self.nodes.shape[1])

    @property
    def copies(self) -> int:
        """How many times the meshed piece makes up the whole."""
        return self.mesh.symmetry.copies

    def free(self, odd: tuple[int, ...] = ()) -> Ints:
        """Unknowns that are not fixed at 0, for a potential that is odd about the planes `odd`."""
        is_free = np.ones(self.unknowns, dtype=bool)
        for fixed in (self.far, *(self.planes[axis] for axis in odd)):
            is_free[fixed] = False
        return np.flatnonzero(is_free)


def total(*matrices: csr_matrix) -> csr_matrix:
    """Their sum."""
    out = matrices[0]
    for m in matrices[1:]:
        out = out + m
    return out


def solid_space(mesh: SolidMesh) -> SolidSpace:
    """Set up P2 on a mesh."""
    n = mesh.points.shape[1]
    ends, number = edges_of(mesh.tetrahedra, n)
    dofs = np.concatenate([mesh.tetrahedra, n + number])
    nodes = nodes_of(mesh)
    count = int(mesh.region.max()) + 1
    bodies = tuple(elements_of(nodes, dofs[:, mesh.region == i]) for i in range(count))
    return SolidSpace(
        mesh=mesh, nodes=nodes, bodies=bodies, air=laplace(nodes, dofs[:, mesh.region < 0]),
        edges=ends, far=_on(mesh.far_facets, ends, n),
        planes={axis: _on(facets, ends, n) for axis, facets in mesh.planes.items()})


def nodes_of(mesh: SolidMesh) -> Array:
    """Places of all unknowns (3, n), m: vertices, then middles of edges."""
    middles = mesh.middles
    if middles is None:
        middles = mesh.points[:, edges_of(mesh.tetrahedra, mesh.points.shape[1])[0]].mean(1)
    return np.concatenate([mesh.points, middles], axis=1)


def unknowns_of(mesh: SolidMesh) -> Ints:
    """The ten unknowns of every tetrahedron (10, m)."""
    n = mesh.points.shape[1]
    return np.concatenate([mesh.tetrahedra, n + edges_of(mesh.tetrahedra, n)[1]])


def _on(facets: Ints, ends: Ints, n: int) -> Ints:
    """Unknowns on triangles (3, k)."""
    edges = ends[0] * n + ends[1]
    sides = np.sort(np.stack([facets[[0, 1]], facets[[1, 2]], facets[[0, 2]]]), axis=1)
    return np.unique(np.concatenate([facets.ravel(),
                                     n + np.searchsorted(edges, (sides[:, 0] * n + sides[:, 1]).ravel())]))


def shape_functions(lam: Array) -> Array:
    """The ten functions (10,) at barycentric coordinates (4,)."""
    return np.array([v * (2 * v - 1) for v in lam] + [4 * lam[a] * lam[b] for a, b in EDGES])


def _slopes(lam: Array) -> Array:
    """Their derivatives (3, 10) with λ1, λ2, λ3."""
    d = np.concatenate([-np.ones((1, 3)), np.eye(3)])  # of λ0 … λ3
    slopes = [(4 * v - 1) * g for v, g in zip(lam, d, strict=True)]
    slopes += [4 * (lam[a] * d[b] + lam[b] * d[a]) for a, b in EDGES]
    return np.array(slopes).T


def _at_points(nodes: Array, dofs: Ints) -> tuple[Array, Array, Array]:
    """Gradients (e, 4, 3, 10), weights (e, 4) and places (3, e, 4) at the four points of elements (10, e)."""
    corners = np.moveaxis(nodes[:, dofs], 2, 0)  # (e, 3, 10)
    gradient = np.empty((dofs.shape[1], 4, 3, 10))
    weight = np.empty((dofs.shape[1], 4))
    places = np.empty((3, dofs.shape[1], 4))
    for q, lam in enumerate(QUADRATURE):
        slopes = _slopes(lam)
        J = corners @ slopes.T  # (e, 3, 3): ∂x/∂λ
        weight[:, q] = np.linalg.det(J) / 24
        gradient[:, q] = np.linalg.inv(J).transpose(0, 2, 1) @ slopes
        places[:, :, q] = (corners @ shape_functions(lam)).T
    if np.any(weight <= 0):
        raise SolveError("the 3-D mesh has a tetrahedron that is turned inside out; try another --quality")
    return gradient, weight, places


def elements_of(nodes: Array, dofs: Ints) -> Elements:
    """The elements with the unknowns dofs (10, e)."""
    gradient, weight, places = _at_points(nodes, dofs)
    return Elements(dofs=dofs, gradient=gradient, weight=weight, points=places)


def averaged(dofs: Ints, values: Array, size: Array, unknowns: int) -> Array:
    """Vectors (3, e, 4) at the four points of elements, linear in each, averaged at the nodes (3, unknowns).

    Parameters
    ----------
    dofs : int array (10, e)
    size : array (e,)
        Volume of each, its weight.
    """
    corners = np.concatenate([np.eye(4), [(np.eye(4)[i] + np.eye(4)[j]) / 2 for i, j in EDGES]])
    outward = corners @ np.linalg.inv(QUADRATURE)  # (10, 4)
    at_nodes = (values @ outward.T) * size[:, None]
    flat = dofs.T.ravel()
    weight = np.bincount(flat, np.repeat(size, 10), unknowns)
    sums = np.stack([np.bincount(flat, c.ravel(), unknowns) for c in at_nodes])
    return np.asarray(sums / np.where(weight > 0, weight, 1))


def laplace(nodes: Array, dofs: Ints, at_once: int = 40000) -> csr_matrix:
    """μ0 ∫ ∇w·∇u, some elements at a time to spare memory."""
    total = nodes.shape[1]
    out = csr_matrix((total, total))
    for piece in np.array_split(dofs, max(1, dofs.shape[1] // at_once), axis=1):
        gradient, weight, _ = _at_points(nodes, piece)
        flat = gradient.reshape(-1, 12, 10)
        local = np.matmul(flat.transpose(0, 2, 1), flat * np.repeat(MU0 * weight, 3, axis=1)[:, :, None])
        d = piece.T
        out = out + coo_matrix((local.ravel(), (np.repeat(d, 10, axis=1).ravel(), np.tile(d, (1, 10)).ravel())),
                               shape=(total, total)).tocsr()
    return out
