"""The tetrahedra of a build: every body, strings if asked for, and a ball of air around them.

gmsh's fragments make touching bodies share their faces. Edges on round bodies are parabolas through the surface (flat
ones would take 0.5 to 2 % off a pole's field). On a plane of symmetry only one half is meshed.
Sizes: a body's thickness over `divisions` on and in it, `edge` times that along the rims that look at the strings,
where B is singular, growing with the distance outside.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from ..arrays import Array
from ..errors import CaseError, SolveError
from ..kernel.session import gmsh_model
from ..kernel.solids import add_form, half_space, kept
from ..shapes.bodies import Point, SolidBody
from ..shapes.symmetry import WHOLE, Symmetry
from .nodes_on import TRIANGLE, NodesOn, nodes_on
from .solid_quality import SolidQuality
from .solid_sizes import set_sizes
from .string_rod import StringRod, add_rod, divide_rods, round_rod

Ints = npt.NDArray[np.int64]
EDGES = ((0, 1), (1, 2), (0, 2), (0, 3), (1, 3), (2, 3))
_TETRAHEDRON = 4  # gmsh's number of those with four nodes
_ROUND = 1e-12  # m, of coordinates on a plane of symmetry
_INNER = (5 - 5**0.5) / 20  # of the four points of an element, exact for squares
_HALVINGS = 40  # of the bulge of an edge: it is straight long before
_NOTHING = "the 3-D mesh has nothing of {}; check its size and place"
_PAST_STRINGS = 1.6  # the far boundary is this much farther out than the ends of strings


@dataclass(frozen=True, kw_only=True, eq=False)
class SolidMesh:
    """Tetrahedra, their edges parabolas.

    Attributes
    ----------
    points : array (3, n)
        Vertices, m.
    tetrahedra : int array (4, m)
    region : int array (m,)
        Number of the body; bodies + k for string k; −1 in air.
    far_facets : int array (3, k)
        Triangles of the far boundary.
    planes : dict
        Triangles (3, k) on x = 0 (key 0) and y = 0 (key 1) where the mesh stops there.
    symmetry : Symmetry
        Where it does.
    middles : array (3, k), optional
        Points on the edges, m, in the order of :func:`edges_of`; half way between the ends if left out.
    lies : NodesOn, optional
        What of the kernel's model the vertices and then the middles of edges lie on.
    """

    points: Array
    tetrahedra: Ints
    region: Ints
    far_facets: Ints
    planes: dict[int, Ints]
    symmetry: Symmetry
    middles: Array | None = None
    lies: NodesOn | None = None


_begun: dict[object, Future[SolidMesh]] = {}


def mesh_ahead(bodies: tuple[SolidBody, ...], quality: SolidQuality, *, symmetry: Symmetry = WHOLE) -> None:
    """Begin :func:`solid_mesh` of the same in another thread.

    gmsh works outside of Python, so that this thread may load libraries meanwhile. It may not copy the process.
    Whatever goes wrong is said where the mesh is asked for.
    """
    worker = ThreadPoolExecutor(1)
    _begun[bodies, quality, (), symmetry] = worker.submit(_meshed, bodies, quality, (), symmetry)
    worker.shutdown(wait=False)


@lru_cache(maxsize=8)
def solid_mesh(bodies: tuple[SolidBody, ...], quality: SolidQuality, *, strings: tuple[StringRod, ...] = (),
               symmetry: Symmetry = WHOLE) -> SolidMesh:
    """Mesh a build.

    Parameters
    ----------
    bodies : tuple of SolidBody
    quality : SolidQuality
    strings : tuple of StringRod
    symmetry : Symmetry
        Mesh only x ≥ 0, only y ≥ 0.

    Raises
    ------
    CaseError
        When two bodies intersect.
    MissingLibraryError
        When gmsh cannot be loaded.
    """
    begun = _begun.pop((bodies, quality, strings, symmetry), None)
    return _meshed(bodies, quality, strings, symmetry) if begun is None else begun.result()


def _meshed(bodies: tuple[SolidBody, ...], quality: SolidQuality, strings: tuple[StringRod, ...],
            symmetry: Symmetry) -> SolidMesh:
    centre, far = ball_round(bodies, quality, symmetry, strings)
    with gmsh_model("build") as gmsh:
        owner = fragments(gmsh, bodies, strings, symmetry, centre, far)
        set_sizes(gmsh, bodies, strings, owner, quality)
        for k, rod in enumerate(strings):
            divide_rods(gmsh, [t for t, i in owner.items() if i == len(bodies) + k], rod, symmetry.x, quality.rod)
        for index in range(-1, len(bodies) + len(strings)):
            tags = [t for _, t in gmsh.model.getEntities(3) if owner.get(t, -1) == index]
            if not tags and index < 0:
                raise SolveError(_NOTHING.format(_group(index, bodies)))
            if tags:
                gmsh.model.addPhysicalGroup(3, tags, index + 2, name=_group(index, bodies))
        try:
            gmsh.model.mesh.generate(3)
        except Exception as error:  # gmsh has no other
            raise SolveError(f"no 3-D mesh comes of these bodies (gmsh: {error}); try another --quality, and move or "
                             "thicken what is thin and close to something else") from error
        points, tetrahedra, region, middles, lies = _collect(gmsh, owner)
    for rod in strings:
        round_rod(points, edges_of(tetrahedra, points.shape[1])[0], middles, rod, quality.rod)
    for axis in symmetry.axes:
        for p in (points, middles):
            p[axis, np.abs(p[axis]) < 1e-9] = 0.0
    mesh = replace(_finished(points, tetrahedra, region, middles, symmetry), lies=lies)
    _check_closed(mesh, centre, far)
    return mesh


def ball_round(bodies: Sequence[SolidBody], quality: SolidQuality, symmetry: Symmetry,
               strings: Sequence[StringRod] = ()) -> tuple[Point, float]:
    """Middle and radius of the ball of air, m."""
    corners = np.array([b.form.bounds for b in bodies])
    low, high = corners[:, 0].min(0), corners[:, 1].max(0)
    centre = np.where([symmetry.x, symmetry.y, False], 0.0, (low + high) / 2)
    far = max(quality.far * float(np.linalg.norm(np.maximum(high - centre, centre - low))),
              *(_PAST_STRINGS * _reach(s, centre, symmetry) for s in strings), 0.0)
    return (float(centre[0]), float(centre[1]), float(centre[2])), far


def fragments(gmsh: Any, bodies: Sequence[SolidBody], strings: Sequence[StringRod], symmetry: Symmetry,
              centre: Point, far: float) -> dict[int, int]:
    """Put bodies, strings and the ball of air into the kernel's model, cut at what they share; whose each volume is.

    Raises
    ------
    CaseError
        When two bodies intersect.
    SolveError
        When nothing is left of one.
    """
    occ = gmsh.model.occ
    half = [half_space(occ, axis, 4 * far) for axis in symmetry.axes]
    solids = [kept(occ, add_form(occ, b.form), half) for b in bodies]
    solids += [add_rod(occ, s, symmetry) for s in strings]
    air = kept(occ, [(3, occ.addSphere(*centre, far))], half)
    if half:
        occ.remove(half, recursive=True)
    pieces = [p for s in solids for p in s]
    owner_of = [i for i, s in enumerate(solids) for _ in s]
    _, images = occ.fragment(air, pieces)
    occ.synchronize()
    owner: dict[int, int] = {}
    for i, image in zip(owner_of, images[len(air):], strict=True):
        for _, tag in image:
            if owner.get(tag, i) != i:
                _refuse(i, owner[tag], bodies)
            owner[tag] = i
    for i, solid in enumerate(solids):
        if solid and i not in owner.values():
            raise SolveError(_NOTHING.format(_group(i, bodies)))
    return owner


def _check_closed(mesh: SolidMesh, centre: Point, far: float) -> None:
    """Elements must share their faces everywhere but on the far boundary; gmsh can leave cracks between volumes."""
    distance = np.linalg.norm(mesh.points[:, np.unique(mesh.far_facets)] - np.asarray(centre)[:, None], axis=0)
    if np.any(distance < 0.99 * far):
        raise SolveError("the 3-D mesh has a crack inside; try another --quality")


def edges_of(tetrahedra: Ints, n: int) -> tuple[Ints, Ints]:
    """The edges of a mesh with n vertices: their ends (2, k), and the number of each tetrahedron's six (6, m), which
    run (0 1), (1 2), (0 2), (0 3), (1 3), (2 3)."""
    pairs = np.sort(np.stack([tetrahedra[[a, b]] for a, b in EDGES]), axis=1)
    key, number = np.unique(pairs[:, 0] * n + pairs[:, 1], return_inverse=True)
    return np.stack([key // n, key % n]), number.reshape(6, -1)


def volume(points: Array, tetrahedra: Ints) -> Array:
    """Signed volume of every tetrahedron, m³."""
    p = points[:, tetrahedra]
    a, b, c = (p[:, i] - p[:, 0] for i in (1, 2, 3))
    return np.asarray(np.einsum("ie,ie->e", np.cross(a, b, axis=0), c) / 6)


def _reach(rod: StringRod, centre: Array, symmetry: Symmetry) -> float:
    """How far from the centre a string goes; a string has to fit the planes of symmetry."""
    if symmetry.x and rod.slope != 0.0:
        raise CaseError(f"string at y = {rod.y:g} m: with a slope it is not its own image in x = 0; mesh both halves")
    if symmetry.y and abs(rod.y) > 1e-9 and rod.y < rod.radius:
        raise CaseError(f"string at y = {rod.y:g} m: it does not lie in y ≥ 0, which alone is meshed; "
                        "mesh both halves or put it at y = 0 or above its radius")
    along = rod.half_length + abs(float(centre[0]))
    up = abs(rod.z - float(centre[2])) + abs(rod.slope) * rod.half_length
    return float(np.linalg.norm([along, rod.y - centre[1], up])) + rod.radius


def _refuse(one: int, other: int, bodies: Sequence[SolidBody]) -> None:
    first, second = (_group(i, bodies) for i in sorted((one, other)))
    raise CaseError(f"bodies: {first} and {second} intersect; move or shorten one of them, they may only touch")


def _group(index: int, bodies: Sequence[SolidBody]) -> str:
    if index < 0:
        return "air"
    return bodies[index].name if index < len(bodies) else f"string {index - len(bodies) + 1}"


def _collect(gmsh: Any, owner: dict[int, int]) -> tuple[Array, Ints, Ints, Array, NodesOn]:
    """Vertices, tetrahedra, regions, the points on the edges, and what they all lie on.

    gmsh bends the edges on faces; those inside, most by far, are straight, so it never sees them.
    """
    mesh = gmsh.model.mesh
    order, xyz = _nodes(mesh)
    found, volumes, region = [], [], []
    faces: set[int] = set()
    for _, tag in gmsh.model.getEntities(3):
        found.append(order[mesh.getElementsByType(_TETRAHEDRON, tag)[1].astype(int)].reshape(-1, 4).T)
        volumes.append(np.full(found[-1].shape[1], tag))
        region.append(np.full(found[-1].shape[1], owner.get(tag, -1)))
        faces.update(t for _, t in gmsh.model.getBoundary([(3, tag)], combined=False, oriented=False))
        mesh.removeElements(3, tag)
    used, inverse = np.unique(np.hstack(found), return_inverse=True)
    t, volume_of, n = inverse.reshape(4, -1), np.concatenate(volumes), used.size
    number_in_list = np.full(xyz.shape[1], -1)
    number_in_list[used] = np.arange(n)
    vertex = np.where(order < 0, -1, number_in_list[order])  # of each of the kernel's tags
    points = np.ascontiguousarray(xyz[:, used])
    ends, number = edges_of(t, n)
    middles = points[:, ends].mean(1)
    gmsh.option.setNumber("Mesh.Renumber", 0)  # corners keep their tags
    mesh.setOrder(2)
    order, xyz = _nodes(mesh)
    six = np.concatenate([mesh.getElementsByType(TRIANGLE, tag)[1] for tag in sorted(faces)]).astype(int)
    six = six.reshape(-1, 6).T
    sides = np.sort(vertex[six[[[0, 1, 2], [1, 2, 0]]]].reshape(2, -1), axis=0)
    on_faces = np.searchsorted(ends[0] * n + ends[1], sides[0] * n + sides[1])
    middles[:, on_faces] = xyz[:, order[six[3:].ravel()]]
    listed, within = np.full(n + ends.shape[1], -1), np.zeros(n + ends.shape[1], dtype=np.int64)
    listed[vertex[vertex >= 0]] = order[np.flatnonzero(vertex >= 0)]
    listed[n + on_faces] = order[six[3:].ravel()]
    within[t], within[n + number] = volume_of, volume_of
    return points, t, np.concatenate(region), middles, nodes_on(gmsh, order, listed, within, n)


def _nodes(mesh: Any) -> tuple[Ints, Array]:
    """The number of each of the kernel's tags in its list of nodes, −1 for none; and the list, (3, n)."""
    tags, xyz, _ = mesh.getNodes()
    order = np.full(int(tags.max()) + 1, -1)
    order[tags.astype(int)] = np.arange(tags.size)
    return order, np.ascontiguousarray(xyz.reshape(-1, 3).T)


def _finished(points: Array, t: Ints, region: Ints, middles: Array, symmetry: Symmetry) -> SolidMesh:
    signed = volume(points, t)
    if np.any(np.abs(signed) < 1e-22):
        raise SolveError("the 3-D mesh has a flat tetrahedron; try another --quality, and check that no two bodies "
                         "nearly touch")
    _untangle(points, t, middles)
    n = points.shape[1]
    sides = np.sort(np.concatenate([t[[0, 1, 2]], t[[0, 1, 3]], t[[0, 2, 3]], t[[1, 2, 3]]], axis=1), axis=0)
    key = (sides[0] * n + sides[1]) * n + sides[2]
    _, first, count = np.unique(key, return_index=True, return_counts=True)
    outer = sides[:, first[count == 1]]
    planes = {}
    far = np.ones(outer.shape[1], dtype=bool)
    for axis in symmetry.axes:
        on = np.all(np.abs(points[axis][outer]) < _ROUND, axis=0)
        planes[axis] = outer[:, on]
        far &= ~on
    return SolidMesh(points=points, tetrahedra=t, region=region, far_facets=outer[:, far], planes=planes,
                     symmetry=symmetry, middles=middles)


def _untangle(points: Array, t: Ints, middles: Array) -> None:
    """Halve the bulge of edges that turn their tetrahedra inside out, until none does."""
    ends, number = edges_of(t, points.shape[1])
    straight = points[:, ends].mean(1)
    asked = np.flatnonzero(np.any(middles != straight, axis=0)[number].any(axis=0))  # others cannot be turned
    for _ in range(_HALVINGS):
        bad = asked[_turned(np.concatenate([points[:, t[:, asked]], middles[:, number[:, asked]]], axis=1))]
        if not bad.size:
            return
        again = np.unique(number[:, bad])
        middles[:, again] = (middles[:, again] + straight[:, again]) / 2
        asked = np.flatnonzero(np.isin(number, again).any(axis=0))
    raise SolveError("the 3-D mesh has a tetrahedron that is turned inside out; try another --quality")


def _turned(ten: Array) -> npt.NDArray[np.bool_]:
    """Which of the elements (3, 10, m) have a Jacobian below a twentieth of their mean."""
    return np.asarray(_jacobians(ten) < 0.05)


def _jacobians(ten: Array) -> Array:
    """Of the elements (3, 10, m) the least Jacobian over the mean of its sizes, at their vertices and at the four
    points that integrals are taken at, where a coarse element on a round body may turn first."""
    dets = []
    d = np.concatenate([-np.ones((1, 3)), np.eye(3)])
    inner = np.full((4, 4), _INNER) + (1 - 4 * _INNER) * np.eye(4)
    for lam in (*np.eye(4), *inner):
        slopes = [(4 * v - 1) * g for v, g in zip(lam, d, strict=True)]
        slopes += [4 * (lam[a] * d[b] + lam[b] * d[a]) for a, b in EDGES]
        dets.append(np.linalg.det(np.einsum("inm,nj->mij", ten, np.array(slopes))))
    return np.asarray(np.min(dets, axis=0) / np.mean(np.abs(dets), axis=0))


def least_jacobians(mesh: SolidMesh) -> Array:
    """Of every element (m,) its least Jacobian over that of a regular one with edges as long; below 0: turned inside
    out."""
    t = mesh.tetrahedra
    ends, number = edges_of(t, mesh.points.shape[1])
    middles = mesh.points[:, ends].mean(1) if mesh.middles is None else mesh.middles
    ten = np.concatenate([mesh.points[:, t], middles[:, number]], axis=1)
    squares = np.sum((mesh.points[:, t[[a for a, _ in EDGES]]] - mesh.points[:, t[[b for _, b in EDGES]]]) ** 2,
                     axis=0).mean(axis=0)
    return np.asarray(_jacobians(ten) * volume(mesh.points, t) * 6 * 2**0.5 / squares**1.5)
