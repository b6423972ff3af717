r"""A pole's mesh that follows its shape: nodes move linearly with the parameters, nothing is meshed again.

    X(p) = X₀ + Σ_k p_k V_k

V_k is given on the surface of one part and goes on into everything else as a harmonic field, component by
component, of a medium that is as stiff as its elements are small (∫ ∇V·∇w dr dz / area): the fine elements at
corners move as bodies, the coarse ones give way. V_k vanishes on the far boundary and on the other parts' own
surfaces; on the axis its r-component does. So any figure is a smooth function of p, and differences of designs
are those of one mesh.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.interpolate import CubicSpline
from scipy.sparse import coo_matrix

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.pole import Quality, SectionMesh, section_mesh
from stringflux.geometry.shapes.row import PoleShape

from ..factor import factor

Ints = npt.NDArray[np.int64]

LEAST_AREA = 0.15
"""No element may shrink below this part of its starting area: it would be thin before, and useless."""
FINEST = 20.0
"""Most elements along a profile that many control points can ask for."""
_SAME = 1e-9  # m


@dataclass(frozen=True, kw_only=True, eq=False)
class Morph:
    """A family of shapes on one mesh.

    Attributes
    ----------
    shape : PoleShape
        The starting shape.
    part : int
        The part whose surface is given.
    start : SectionMesh
        Its mesh.
    fields : array (k, 2, nodes)
        V_k: displacement in r and z of every node per metre of parameter.
    upper : int array (n,)
        Nodes of the part's upper profile, from the axis to the rim.
    """

    shape: PoleShape
    part: int
    start: SectionMesh
    fields: Array
    upper: Ints

    @property
    def count(self) -> int:
        """Number of parameters."""
        return len(self.fields)

    def mesh(self, p: Array) -> SectionMesh:
        """The mesh at parameters p (k,), m.

        Raises
        ------
        CaseError
            When an element would be crushed or turned over.
        """
        points = self.start.points + np.tensordot(p, self.fields, 1)
        shrunk = signed_areas(points, self.start.triangles) / signed_areas(self.start.points, self.start.triangles)
        worst = int(np.argmin(shrunk))
        if not shrunk[worst] > LEAST_AREA:
            r, z = 1e3 * self.start.points[:, self.start.triangles[:, worst]].mean(axis=1)
            raise CaseError(
                f"profile: moved by up to {1e3 * float(np.max(np.abs(p))):.3g} mm it crushes the mesh at r {r:.2f} "
                f"and z {z:.2f} mm from the starting face; take smaller limits, or start nearer to this shape"
            )
        return replace(self.start, points=points)

    def profile(self, p: Array) -> Array:
        """r and z (2, n) of the part's upper profile from the axis to the rim, m, z from the starting face."""
        moved = self.start.points[:, self.upper] + np.tensordot(p, self.fields[:, :, self.upper], 1)
        return np.asarray(moved)

    def limits(self) -> float:
        """How far each parameter may go alone, either way, before :meth:`mesh` refuses, m (the least of all)."""
        least = np.inf
        for field in self.fields:
            for sign in (1.0, -1.0):
                low, high = 0.0, 20e-3
                for _ in range(20):
                    middle = (low + high) / 2
                    points = self.start.points + sign * middle * field
                    areas = signed_areas(points, self.start.triangles)
                    fine = np.all(areas > LEAST_AREA * signed_areas(self.start.points, self.start.triangles))
                    low, high = (middle, high) if fine else (low, middle)
                least = min(least, low)
        return float(least)


def profile_morph(shape: PoleShape, quality: Quality, radii: Sequence[float] | Array, *, part: int = 0,
                  basis: str = "spline") -> Morph:
    """Control points on the upper profile, each moved up and down.

    Parameters
    ----------
    radii : sequence of float
        Where the control points are, m, ascending from 0 (the axis) to the part's radius (the rim).
    basis : {"spline", "linear"}
        What lies between them: a cubic spline, level on the axis, or straight lines.

    Raises
    ------
    CaseError
        If the radii do not ascend from 0 to the part's.
    """
    knots = np.asarray(radii, dtype=float)
    radius = shape.parts[part].radius
    if knots.size < 2 or np.any(np.diff(knots) <= 0) or abs(knots[0]) > _SAME or abs(knots[-1] - radius) > _SAME:
        raise CaseError(
            f"control points: received radii {', '.join(f'{1e3 * r:.3g}' for r in knots)} mm; write them ascending "
            f"from 0 to the part's radius, {1e3 * radius:.3g} mm"
        )

    def heights(r: Array) -> Array:
        one = np.eye(knots.size)
        if basis == "linear":
            return np.stack([np.interp(r, knots, row) for row in one])
        return np.asarray(CubicSpline(knots, one, bc_type=("clamped", "natural"))(np.clip(r, 0, radius))).T

    start = section_mesh(shape, _fine_enough(shape, quality, part, float(np.min(np.diff(knots)))))
    upper, side, bottom = surface_nodes(shape, start, part)
    dz = np.zeros((knots.size, start.points.shape[1]))
    dz[:, upper] = heights(start.points[0, upper])
    return _extended(shape, part, start, np.zeros_like(dz), dz, fixed_r=np.concatenate([upper, side, bottom]),
                     fixed_z=np.concatenate([upper, bottom]), upper=upper)


def morph_from_boundary(shape: PoleShape, quality: Quality, fields: Callable[[Array], Array], *,
                        part: int = 0) -> Morph:
    """Any linear family: `fields` gives the displacements (k, 2, n) at surface points (2, n) of the part."""
    start = section_mesh(shape, quality)
    upper, side, bottom = surface_nodes(shape, start, part)
    surface = np.unique(np.concatenate([upper, side, bottom]))
    given = np.asarray(fields(start.points[:, surface]), dtype=float)
    dr, dz = (np.zeros((given.shape[0], start.points.shape[1])) for _ in range(2))
    dr[:, surface], dz[:, surface] = given[:, 0], given[:, 1]
    return _extended(shape, part, start, dr, dz, fixed_r=surface, fixed_z=surface, upper=upper)


def surface_nodes(shape: PoleShape, mesh: SectionMesh, part: int) -> tuple[Ints, Ints, Ints]:
    """Nodes of a part's upper profile (axis to rim), of its side below the rim and of its plane bottom.

    Raises
    ------
    CaseError
        If its section does not begin and end on the axis.
    """
    mine = mesh.triangles[:, mesh.region == part]
    edges = np.sort(np.concatenate([mine[[0, 1]], mine[[1, 2]], mine[[2, 0]]], axis=1), axis=0)
    once, times = np.unique(edges, axis=1, return_counts=True)
    boundary = once[:, times == 1]
    r, z = mesh.points
    boundary = boundary[:, ~np.all(r[boundary] < _SAME, axis=0)]  # not the axis
    neighbours: dict[int, list[int]] = {}
    for a, b in boundary.T.tolist():
        neighbours.setdefault(a, []).append(b)
        neighbours.setdefault(b, []).append(a)
    ends = [n for n, near in neighbours.items() if len(near) == 1]
    if len(ends) != 2:
        raise CaseError(f"part {part + 1}: its section must begin and end on the axis for its profile to be changed")
    chain = [max(ends, key=lambda n: z[n])]
    while len(chain) == 1 or chain[-1] not in ends:
        chain += [n for n in neighbours[chain[-1]] if len(chain) == 1 or n != chain[-2]]
    found = np.array(chain)
    radius, floor = shape.parts[part].radius, shape.parts[part].bottom
    rim = int(np.argmax(r[found] > radius - _SAME))
    low = int(np.argmax(z[found] < floor + _SAME))
    return found[:rim + 1], found[rim + 1:low], found[low:]


def _fine_enough(shape: PoleShape, quality: Quality, part: int, spacing: float) -> Quality:
    """Elements on the part's surface no longer than the control points lie apart, within reason."""
    size = max(spacing, shape.parts[part].radius / FINEST)
    coarse = min(min(p.radius, p.top - p.bottom) for p in shape.parts) / quality.divisions
    if quality.surface or size > 0.999 * coarse:  # as good as equal: the mesh of the main chain
        return quality
    return replace(quality, surface=tuple(size if i == part else 0.0 for i in range(len(shape.parts))))


def signed_areas(points: Array, triangles: Ints) -> Array:
    """Twice the area of every triangle, with its sign, m²."""
    a, b, c = (points[:, corner] for corner in triangles)
    return np.asarray((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _extended(shape: PoleShape, part: int, start: SectionMesh, dr: Array, dz: Array, *, fixed_r: Ints,
              fixed_z: Ints, upper: Ints) -> Morph:
    stiffness = _stiffness(start)
    others = [surface for i in range(len(shape.parts)) if i != part
              for surface in surface_nodes(shape, start, i)]
    held = np.concatenate([start.far_edges.ravel(), *others]).astype(np.int64)
    # a surface that both share follows the part that changes
    held = np.setdiff1d(held, np.union1d(fixed_r, fixed_z))
    axis = np.flatnonzero(start.points[0] < 1e-12)
    fields = np.stack([_harmonic(stiffness, dr, np.unique(np.concatenate([fixed_r, held, axis]))),
                       _harmonic(stiffness, dz, np.unique(np.concatenate([fixed_z, held])))], axis=1)
    return Morph(shape=shape, part=part, start=start, fields=fields, upper=upper)


def _stiffness(mesh: SectionMesh) -> coo_matrix:
    """∫ ∇u·∇w dr dz / area over P1 triangles, both to a power that keeps small elements stiff."""
    corners = mesh.points[:, mesh.triangles]  # (2, 3, m)
    double = signed_areas(mesh.points, mesh.triangles)
    opposite = corners[:, [2, 0, 1]] - corners[:, [1, 2, 0]]
    local = np.einsum("cam,cbm->abm", opposite, opposite) / (2 * np.abs(double) * np.abs(double))
    rows = np.broadcast_to(mesh.triangles[:, None], local.shape)
    columns = np.broadcast_to(mesh.triangles[None], local.shape)
    n = mesh.points.shape[1]
    return coo_matrix((local.ravel(), (rows.ravel(), columns.ravel())), shape=(n, n))


def _harmonic(stiffness: coo_matrix, given: Array, fixed: Ints) -> Array:
    """Values (k, n) that equal `given` at the fixed nodes and are harmonic elsewhere."""
    out = given.copy()
    free = np.setdiff1d(np.arange(given.shape[1]), fixed)
    matrix = stiffness.tocsr()
    right = -(matrix[free][:, fixed] @ given[:, fixed].T)
    out[:, free] = factor(matrix[free][:, free]).solve(np.ascontiguousarray(right)).T
    return out
