r"""The static field of magnetised bodies in air close to their faces, from charge layers and not from ∇φ there.

With M averaged at the nodes of each body, so that it is continuous inside it,

    H(r) = 1/4π ∫_faces M·n (r − r')/|r − r'|³ dS' − 1/4π ∫ div M (r − r')/|r − r'|³ dV'

Each facet, curved as it is, is cut into PIECES² flat triangles with the mean of M·n on them. Those within NEAR of
their own size are integrated in closed form (:mod:`.triangle_potential`), others are points at their middles. What is
left of div M inside an element is a point, softened to a ball where it is near. Farther than about an element from
the bodies the sum over the unknowns (:mod:`.charges`) is more exact, since it takes M as it was solved and not
averaged; between one and two elements the one passes into the other. What lies CLOSE or more beside a plane is summed
on a grid of STEP in it and interpolated.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.interpolate import RectBivariateSpline
from scipy.spatial import cKDTree

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.solid import EDGES

from ..constants import MU0
from ..triangle_potential import gradient
from .bias import SolidState
from .charges import Charges
from .space import SolidSpace, averaged

PIECES, NEAR = 4, 3.0
CLOSE, STEP = 8e-3, 1.5e-3

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
_FACES = ((1, 2, 3), (0, 2, 3), (0, 1, 3), (0, 1, 2))
_MIDDLE = {frozenset(edge): 4 + i for i, edge in enumerate(EDGES)}
_SIX = np.array([[a, b, c, *(_MIDDLE[frozenset(e)] for e in ((a, b), (b, c), (a, c)))] for a, b, c in _FACES])
_SOFT = 2.0  # radii of an element's ball, in which its charge is spread evenly
_FOUR_PI = 4 * np.pi


@dataclass(frozen=True, kw_only=True, eq=False)
class Layers:
    """Charged triangles and balls.

    Attributes
    ----------
    corners : array (3 corners, 3, n)
        m.
    density : array (n,)
        M·n, A/m.
    facet : array (n,)
        Longest edge of the facet that each is a piece of, m.
    balls : array (3, m)
        Their middles, m.
    radii, values : arrays (m,)
        m, A·m.
    """

    corners: Array
    density: Array
    facet: Array
    balls: Array
    radii: Array
    values: Array

    def field(self, points: Array) -> Array:
        """H (3, p) in A/m at points (3, p) outside the bodies."""
        middles, area = self.corners.mean(axis=0), _area(self.corners)
        out = np.asarray(self.points.field(points)[0])
        tree = cKDTree(points.T)
        i, j = _pairs(tree, middles, NEAR * np.sqrt(2 * area))
        away = points[:, i] - middles[:, j]
        exact = -gradient(points[:, i], self.corners[:, :, j]) - area[j] * away / np.linalg.norm(away, axis=0)**3
        out += _summed(i, self.density[j] * exact, points.shape[1])
        i, j = _pairs(tree, self.balls, self.radii)
        away = points[:, i] - self.balls[:, j]
        exact = away * (1 / self.radii[j]**3 - 1 / np.linalg.norm(away, axis=0)**3)
        return np.asarray(out + _summed(i, self.values[j] * exact, points.shape[1]))

    @property
    def points(self) -> Charges:
        """All of them as points."""
        return Charges(places=np.concatenate([self.corners.mean(axis=0), self.balls], axis=1),
                       values=np.concatenate([self.density * _area(self.corners), self.values])[None])

    def where(self, triangles: Bools, balls: Bools) -> Layers:
        """Some of them."""
        return Layers(corners=self.corners[..., triangles], density=self.density[triangles],
                      facet=self.facet[triangles], balls=self.balls[:, balls], radii=self.radii[balls],
                      values=self.values[balls])

    def elements_away(self, points: Array) -> Array:
        """How far points (3, p) are from the nearest facet, in its longest edge (p,)."""
        far, nearest = cKDTree(self.corners.mean(axis=0).T).query(points.T)
        return np.asarray(far / self.facet[nearest])


def layers(space: SolidSpace, state: SolidState, odd: tuple[int, ...]) -> Layers:
    """The layers of a solved static field, images behind the planes of symmetry included.

    Parameters
    ----------
    odd : tuple of int
        Planes about which the potential is odd.
    """
    parts = [_of_body(space, k, b / MU0 - h, odd) for k, (b, h) in enumerate(zip(state.b, state.h, strict=True))]
    corners, density, facet, balls, radii, values = (np.concatenate(group, axis=-1)
                                                     for group in zip(*parts, strict=True))
    for axis in space.mesh.symmetry.axes:
        sign, flip = -1.0 if axis in odd else 1.0, np.ones((3, 1))
        flip[axis] = -1.0
        corners, balls = np.concatenate([corners, flip * corners], -1), np.concatenate([balls, flip * balls], -1)
        density, values = np.concatenate([density, sign * density]), np.concatenate([values, sign * values])
        facet, radii = np.tile(facet, 2), np.tile(radii, 2)
    return Layers(corners=corners, density=density, facet=facet, balls=balls, radii=radii, values=values)


def field_in_plane(layer: Layers, charges: Charges, y: float, x: Array, z: Array, air: Bools) -> Array:
    """H (3, n) in A/m at the points of a plane y = const that lie in air, however near to bodies.

    Parameters
    ----------
    charges : Charges
        Of the same state, its first excitation.
    x, z : arrays (nx,), (nz,)
        m.
    air : bool array (nz, nx)
    """
    across, up = np.meshgrid(x, z)
    points = np.stack([across[air], np.full(int(air.sum()), y), up[air]])
    bias = Charges(places=charges.places, values=np.real(charges.values[:1]))
    share, out = np.clip(layer.elements_away(points) - 1, 0, 1), np.zeros_like(points)
    beside = [np.abs(v - y) < CLOSE for v in (layer.corners.mean(axis=0)[1], layer.balls[1], bias.places[1])]
    near = layer.where(beside[0], beside[1])
    for weight, close, far in ((1 - share, near.field, layer.where(~beside[0], ~beside[1]).points),
                               (share, lambda p: bias.where(beside[2]).field(p)[0], bias.where(~beside[2]))):
        part = weight > 0
        if np.any(part):
            out[:, part] += weight[part] * (close(points[:, part]) + _interpolated(far, y, x, z, points[:, part]))
    return out


def _interpolated(far: Charges, y: float, x: Array, z: Array, points: Array) -> Array:
    """H (3, p) of charges that are nowhere near the plane, from a coarser grid."""
    grid = [np.linspace(v[0], v[-1], max(4, int(np.ceil((v[-1] - v[0]) / STEP)) + 1)) for v in (x, z)]
    across, up = np.meshgrid(*grid)
    coarse = far.field(np.stack([across.ravel(), np.full(across.size, y), up.ravel()]))[0]
    return np.stack([RectBivariateSpline(grid[1], grid[0], h.reshape(across.shape)).ev(points[2], points[0])
                     for h in coarse])


def _of_body(space: SolidSpace, k: int, magnetisation: Array, odd: tuple[int, ...]) -> tuple[Array, ...]:
    """Corners, density, facet, balls, radii and values of one body in the meshed piece."""
    elements = space.bodies[k]
    size = elements.weight.sum(axis=1)
    at_nodes = averaged(elements.dofs, magnetisation, size, space.unknowns)
    for axis, there in space.planes.items():  # what symmetry leaves of M on its planes
        gone = np.array([c for c in range(3) if (c == axis) != (axis in odd)])
        at_nodes[np.ix_(gone, there)] = 0.0
    facets, inner = _outer(elements.dofs, list(space.planes.values()))
    corners, density = _pieces(space.nodes[:, facets], at_nodes[:, facets], space.nodes[:, inner])
    ends = space.nodes[:, facets[:3]]
    longest = np.linalg.norm(ends - np.roll(ends, 1, axis=1), axis=0).max(axis=0)
    spread = np.einsum("eqcn,cen,eq->e", elements.gradient, at_nodes[:, elements.dofs.T], elements.weight,
                       optimize=True)
    radii = _SOFT * (size / (_FOUR_PI / 3))**(1 / 3)
    return corners, density, np.tile(longest, PIECES**2), elements.points.mean(axis=2), radii, -spread


def _outer(dofs: Ints, planes: list[Ints]) -> tuple[Ints, Ints]:
    """Unknowns (6, f) of the facets of a body that no other of its elements shares, but for those on planes of
    symmetry, and of the vertex (f,) opposite to each."""
    every = dofs[_SIX.T].reshape(6, -1)
    opposite = dofs[:4].reshape(-1)
    _, group, count = np.unique(np.sort(every[:3], axis=0), axis=1, return_inverse=True, return_counts=True)
    keep = count[group.reshape(-1)] == 1
    for there in planes:
        keep &= ~np.all(np.isin(every[:3], there), axis=0)
    return every[:, keep], opposite[keep]


def _pieces(nodes: Array, magnetisation: Array, inner: Array) -> tuple[Array, Array]:
    """Flat triangles (3, 3, n) of curved facets, and the mean M·n on each; both arguments are (3, 6, f), and `inner`
    (3, f) the vertex inside the body."""
    corners, density = [], []
    for piece in _cut():
        there = np.stack([nodes.transpose(0, 2, 1) @ _quadratic(lam) for lam in piece])  # (3 corners, 3, f)
        halfway = [_quadratic((piece[i] + piece[i - 1]) / 2) for i in range(3)]
        mean = magnetisation.transpose(0, 2, 1) @ np.mean(halfway, axis=0)  # exact for quadratics
        normal = np.cross(there[1] - there[0], there[2] - there[0], axis=0)
        normal *= np.sign(((there[0] - inner) * normal).sum(axis=0)) / np.linalg.norm(normal, axis=0)
        corners.append(there)
        density.append((mean * normal).sum(axis=0))
    return np.concatenate(corners, axis=2), np.concatenate(density)


def _cut() -> list[Array]:
    """Barycentric corners (3, 3) of the PIECES² triangles of a triangle."""
    n, out = PIECES, []
    for a in range(n):
        for b in range(n - a):
            out.append([(a, b), (a + 1, b), (a, b + 1)])
            if a + b < n - 1:
                out.append([(a + 1, b), (a + 1, b + 1), (a, b + 1)])
    return [np.array([(a / n, b / n, 1 - (a + b) / n) for a, b in corners]) for corners in out]


def _quadratic(lam: Array) -> Array:
    """The six functions (6,) of a facet."""
    a, b, c = lam
    return np.array([a * (2 * a - 1), b * (2 * b - 1), c * (2 * c - 1), 4 * a * b, 4 * b * c, 4 * a * c])


def _area(corners: Array) -> Array:
    normal = np.cross(corners[1] - corners[0], corners[2] - corners[0], axis=0)
    return np.asarray(np.linalg.norm(normal, axis=0)) / 2


def _pairs(tree: cKDTree, middles: Array, reach: Array) -> tuple[Ints, Ints]:
    """Points and sources nearer to each other than the source's reach."""
    found = tree.query_ball_point(middles.T, reach)
    count = np.array([len(f) for f in found], dtype=np.int64)
    flat = np.fromiter((i for f in found for i in f), dtype=np.int64, count=int(count.sum()))
    return flat, np.repeat(np.arange(len(found)), count)


def _summed(i: Ints, h: Array, points: int) -> Array:
    """h (3, pairs) added up by point, over 4π."""
    return np.stack([np.bincount(i, c, points) for c in h]) / _FOUR_PI
