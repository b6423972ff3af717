r"""The force of a build's magnets, steel and direct currents on some of its bodies, in two ways.

By Maxwell's stress T in the air round them (Coulomb; Henrotte and others). With g = 1 on the bodies, 0 on all others
and far out, and without currents, div T = 0 gives

    F = −∫_air T·∇g dV,     T = μ0 (H H − ½ H² 1),     H = −∇φ

which is the mean over all closed surfaces g = const. It is also minus the slope of the energy of the discrete field
when the mesh moves by g. Here g is the harmonic one of P1, so every vertex has a force −∫ T·∇w of its own, once.

By the bodies' magnetic charges in the field of all others (Brown), with q_i = ∫ M·∇w_i of :mod:`.charges`:

    F = μ0 Σ_i q_i H_others(r_i)

To both a direct current in a coil adds what its field in air B_s does to these charges, Σ q_i B_s(r_i): in the first
way too, for T of −∇φ has no currents in it, and a winding stands in that air.

The charges are points. Where gaps are as wide as these are apart, they are far more exact between magnets than
elements are in air (1e-3 against 1e-2 at normal); where gaps are thinner, only the stress holds. Which holds better,
and how far it may be off: :mod:`.doubt.force`.

Neither knows a force between bodies that touch: where a surface between them would have to pass there is no air.

On a mesh that stops at planes of symmetry, g is a sum of parts even and odd about each, every one with its own
condition there: even ones go on, odd ones are 0.

References
----------
J. L. Coulomb, "A methodology for the determination of global electromechanical quantities from a finite element
analysis and its application to the evaluation of magnetic forces, torques and stiffness", *IEEE Trans. Magn.* 19
(1983) 2514. F. Henrotte, G. Deliège, K. Hameyer, "The eggshell approach for the computation of electromagnetic forces
in 2D and 3D", *COMPEL* 23 (2004) 996. W. F. Brown, *Magnetoelastic Interactions*, Springer 1966 (all from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_matrix, csr_matrix
from scipy.spatial import cKDTree

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError
from stringflux.geometry.mesh.solid import EDGES, edges_of
from stringflux.geometry.shapes.bodies import SolidBody

from ..constants import MU0
from ..factor import factor
from .charges import Charges, negligible
from .solve import SolvedMagnets, SolvedSolid
from .space import SolidSpace, elements_of

Mask = npt.NDArray[np.bool_]
Flip = tuple[int, ...]

_DOWN = np.concatenate([np.eye(4), [(np.eye(4)[a] + np.eye(4)[b]) / 2 for a, b in EDGES]])  # P1 from P2, (10, 4)
_AT_ONCE = 30_000  # elements
_SAME = 1e-8  # m
_NEAREST = 40  # charges beside the thinnest gap, whose distances from each other are looked at


@dataclass(frozen=True, kw_only=True, eq=False)
class ForceFound:
    """The force on bodies in two ways.

    Attributes
    ----------
    stress, charges : arrays (3,)
        N.
    clearance : float
        From their charges to the nearest of the others, m.
    spacing : float
        From one of these charges to the next, m.
    """

    stress: Array
    charges: Array
    clearance: float
    spacing: float

    @property
    def pitches(self) -> float:
        """How many of their distances from each other the charges are off the others'."""
        return self.clearance / self.spacing if self.spacing else np.inf


class Forces:
    """Forces on any bodies of a solved build; what they share is computed once.

    Parameters
    ----------
    solved : SolvedMagnets
    """

    def __init__(self, solved: SolvedMagnets) -> None:
        self._solved, space = solved, solved.space
        self._flips = _subsets(space.mesh.symmetry.axes)
        self._partner = {flip: _partners(solved.bodies, flip) for flip in self._flips}
        self._nodal, self._laplace = _on_vertices(space, solved.bias.phi)
        region, t = space.mesh.region, space.mesh.tetrahedra
        self._vertices = [np.unique(t[:, region == i]) for i in range(len(space.bodies))]
        self._q = np.stack([e.load(b / MU0 - h, space.unknowns) for e, b, h in
                            zip(space.bodies, solved.bias.b, solved.bias.h, strict=True)])
        self._used = ~np.all(negligible(self._q.sum(axis=0)[None]), axis=0)

    def on(self, members: Sequence[int]) -> ForceFound:
        """The force on bodies, by their numbers in `solved.bodies`, all together."""
        own = self._own(members)
        charges, clearance, spacing = self._by_charges(own)
        currents = self._by_currents(own)
        return ForceFound(stress=self._by_stress(own) + currents, charges=charges + currents, clearance=clearance,
                          spacing=spacing)

    def _by_currents(self, own: dict[Flip, Mask]) -> Array:
        """The force of direct currents in coils."""
        total = np.zeros(3)
        for flip, mask in own.items() if self._solved.direct else ():
            q = _sign(flip, self._solved.odd) * self._q[mask].sum(axis=0)
            there = np.flatnonzero(self._used & (q != 0))
            total += self._solved.direct.field(self._solved.space.nodes[:, there] * _mirror(flip)[:, None]) @ q[there]
        return total

    def _by_stress(self, own: dict[Flip, Mask]) -> Array:
        total = np.zeros(3)
        for odd in self._flips:
            data = _even(own, odd)
            if np.any(data):
                part = self._nodal @ self._weight(data, odd)
                total += sum((_sign(odd, flip) * _mirror(flip) * part for flip in own), np.zeros(3))
        return total

    def _weight(self, data: Array, odd: Flip) -> Array:
        """The harmonic g (vertices,) with these values (bodies,) on bodies, 0 far out and on odd planes."""
        mesh, n = self._solved.space.mesh, self._nodal.shape[1]
        g, fixed = np.zeros(n), np.zeros(n, dtype=bool)
        fixed[np.unique(mesh.far_facets)] = True
        for axis in odd:
            fixed[np.unique(mesh.planes[axis])] = True
        for vertices, value in zip(self._vertices, data, strict=True):
            g[vertices], fixed[vertices] = value, True
        free = np.flatnonzero(~fixed)
        g[free] = factor(csr_matrix(self._laplace[free][:, free])).solve(-(self._laplace @ g)[free])
        return g

    def axes(self, members: Sequence[int]) -> list[int]:
        """Along which of x, y and z symmetry leaves a force on some bodies."""
        own, planes = self._own(members), self._solved.space.mesh.symmetry.axes
        return [k for k in range(3) if k not in planes or np.any(_even(own, (k,)))]

    def counted(self, members: Sequence[int], *, currents_alone: bool = False) -> list[tuple[Array, ...]]:
        """What B − μ0 H of the meshed bodies counts for in the force on some by charges, along x, y and z.

        Of every body three arrays (3, e, q) in A/m². Moments of the bodies count by the slopes of the others' field,
        those of the others by minus the slopes of the bodies' own; or all by what direct currents do alone.
        """
        own, space = self._own(members), self._solved.space
        here, beyond = self._sides(own)
        found = []
        for i, e in enumerate(space.bodies):
            nodes, potential = np.unique(e.dofs), np.zeros((3, space.unknowns))
            for flip, mask in own.items():
                at, sign = space.nodes[:, nodes] * _mirror(flip)[:, None], _sign(flip, self._solved.odd)
                if mask[i]:
                    potential[:, nodes] += sign * self._solved.direct.field(at) / MU0
                if not currents_alone:
                    potential[:, nodes] += sign * (_field(beyond, at) if mask[i] else -_field(here, at))
            found.append(tuple(e.field(along) for along in potential))
        return found

    def rise(self, members: Sequence[int], axis: int) -> Array:
        """∇G (3, e, 1) in the air of the meshed piece, 1/m, for the force along an axis by stress."""
        mesh, own = self._solved.space.mesh, self._own(members)
        odd = tuple({axis} & set(mesh.symmetry.axes))
        g = self._weight(_even(own, odd), odd)
        corners = mesh.tetrahedra[:, mesh.region < 0]
        edges = (mesh.points[:, corners[1:]] - mesh.points[:, corners[:1]]).transpose(2, 1, 0)
        return np.asarray(np.linalg.solve(edges, (g[corners[1:]] - g[corners[0]]).T[:, :, None]).transpose(1, 0, 2))

    def _own(self, members: Sequence[int]) -> dict[Flip, Mask]:
        return {flip: np.isin(partner, members) for flip, partner in self._partner.items()}

    def _sides(self, own: dict[Flip, Mask]) -> tuple[Charges, Charges]:
        """The charges of the bodies and of all others."""
        sets: list[list[tuple[Array, Array]]] = [[], []]
        for flip, mask in own.items():
            sign = _sign(flip, self._solved.odd)
            for other, chosen in enumerate((mask, ~mask)):
                q = sign * self._q[chosen].sum(axis=0)
                there = np.flatnonzero(self._used & (q != 0))
                sets[other].append((self._solved.space.nodes[:, there] * _mirror(flip)[:, None], q[there]))
        here, beyond = (Charges(places=np.concatenate([p for p, _ in each], axis=1),
                                values=np.concatenate([v for _, v in each])[None]) for each in sets)
        return here, beyond

    def _by_charges(self, own: dict[Flip, Mask]) -> tuple[Array, float, float]:
        """The force, and how wide the gap and how far apart the charges at it are."""
        here, beyond = self._sides(own)
        if not here.places.size or not beyond.places.size:
            return np.zeros(3), np.inf, 0.0
        gap, spacing = _at_gap(here.places, beyond.places)
        return (MU0 * _field(beyond, here.places) @ here.values[0], gap,
                max(spacing, _at_gap(beyond.places, here.places)[1]))


def _field(charges: Charges, points: Array) -> Array:
    return np.asarray(charges.field(points)[0])


def _even(own: dict[Flip, Mask], odd: Flip) -> Array:
    """The part of what is 1 on bodies, 0 on others (bodies,) that is odd about these planes and even about others."""
    return np.asarray(sum(_sign(odd, flip) * mask.astype(float) for flip, mask in own.items()) / len(own))


def mirrored_pieces(solved: SolvedMagnets | SolvedSolid) -> list[tuple[Array, float]]:
    """What makes a whole of the meshed piece: the signs (3,) of each image's places, and that of its moments, which
    are mirrored as places are."""
    return [(_mirror(flip), _sign(flip, solved.odd)) for flip in _subsets(solved.space.mesh.symmetry.axes)]


def pieces_of(solved: SolvedMagnets, members: Sequence[int]) -> list[tuple[Array, float, list[int]]]:
    """Of some bodies, by their numbers: for every image of the meshed piece its signs as of :func:`mirrored_pieces`,
    and the numbers of those bodies whose images belong to them."""
    return [(_mirror(flip), _sign(flip, solved.odd),
             [i for i, whose in enumerate(_partners(solved.bodies, flip)) if whose in members])
            for flip in _subsets(solved.space.mesh.symmetry.axes)]


def _at_gap(here: Array, beyond: Array) -> tuple[float, float]:
    """The shortest way between two sets of points (3, n), and how far those at it are from others of the first."""
    away, _ = cKDTree(beyond.T).query(here.T)
    close = here[:, np.argsort(away)[:_NEAREST]]
    apart = np.atleast_2d(cKDTree(here.T).query(close.T, k=min(8, here.shape[1]))[0])
    nearest = np.min(np.where(apart > _SAME, apart, np.inf), axis=-1)
    return float(np.min(away)), float(np.median(nearest))


def _on_vertices(space: SolidSpace, phi: Array) -> tuple[Array, csr_matrix]:
    """−∫ T·∇w of every P1 function (3, vertices), N, and ∫ ∇w·∇u of them, m, over the air."""
    t, n = space.mesh.tetrahedra, space.mesh.points.shape[1]
    air = space.mesh.region < 0
    dofs = np.concatenate([t[:, air], n + edges_of(t, n)[1][:, air]])
    forces, laplace = np.zeros((3, n)), csr_matrix((n, n))
    for piece in np.array_split(dofs, max(1, dofs.shape[1] // _AT_ONCE), axis=1):
        e = elements_of(space.nodes, piece)
        h = -e.field(phi)
        stress = MU0 * (h[:, None] * h - 0.5 * np.eye(3)[:, :, None, None] * np.sum(h * h, axis=0))
        gradient = e.gradient @ _DOWN  # (e, q, 3, 4)
        local = -np.einsum("ijeq,eq,eqjn->ien", stress, e.weight, gradient, optimize=True)
        vertices = piece[:4].T
        forces += np.stack([np.bincount(vertices.ravel(), c.ravel(), n) for c in local])
        values = np.einsum("eqjm,eq,eqjn->emn", gradient, e.weight, gradient, optimize=True).ravel()
        rows, columns = np.repeat(vertices, 4, axis=1).ravel(), np.tile(vertices, (1, 4)).ravel()
        laplace = laplace + coo_matrix((values, (rows, columns)), shape=(n, n)).tocsr()
    return forces, laplace


def _subsets(axes: tuple[int, ...]) -> list[Flip]:
    return [each for k in range(len(axes) + 1) for each in combinations(axes, k)]


def _sign(one: Flip, other: Flip) -> float:
    return float((-1) ** len(set(one) & set(other)))


def _mirror(flip: Flip) -> Array:
    return np.array([-1.0 if axis in flip else 1.0 for axis in range(3)])


def _partners(bodies: Sequence[SolidBody], flip: Flip) -> list[int]:
    """The number of every body's image."""
    bounds = np.array([b.form.bounds for b in bodies])
    images = np.sort(bounds * _mirror(flip), axis=1)
    out = []
    for i, image in enumerate(images):
        found = [j for j in range(len(bodies)) if bodies[j].material == bodies[i].material
                 and np.allclose(bounds[j], image, rtol=0, atol=_SAME)]
        if not found:
            raise SolveError(f"{bodies[i].name}: its mirror image was not found among the bodies; move one of them "
                             "by a hundredth of a millimetre")
        out.append(i if i in found else found[0])
    return out
