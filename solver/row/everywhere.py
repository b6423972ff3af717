r"""The magnets' field at any point about a row: in air, between the poles, under them and inside them.

Every pole i makes a field of its own, B_i, and the whole is their sum, in the poles too::

    B = Σ_i B_i          B_i = curl(r u e_φ) + Σ_{m ≥ 1} B_m

u is what the bias cell solves for (:mod:`..section.bias`: B = curl u + B_ext, B_ext that of the others). Of the
orders m ≥ 1 the row keeps the charges q_m and the potential v_ext of the others. With K₀ the form of μ0 over
everything, and φ = r^m v cos mα ::

    K₀ v = μ0 q_m        in air B_m = −μ0 ∇φ        in the pole B_m = μ (−∇(φ + φ_ext)) + μ0 ∇φ_ext

μ is what a signal meets; along the axis of magnets that bend (:mod:`.bias_waves`) B_z of order m is the one found
there. Slopes of P2 functions jump between triangles; they are averaged at the nodes over the triangles of the same
part, or of the air, that meet there. Beyond the mesh a field falls as its leading multipole, as the far boundary
takes it.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import PlacedPole, PoleShape

from ..constants import MU0
from ..factor import factor
from ..materials.signal import AxisPermeability
from ..section.bias import BiasState
from ..section.forms import far_potential
from ..section.operators import potential_matrix
from ..section.space import Section
from .solve import SolvedRow

Ints = npt.NDArray[np.int64]

_CORNERS = np.array([(0, 0), (1, 0), (0, 1), (0.5, 0), (0.5, 0.5), (0, 0.5)])  # of P2 in the reference triangle
_ON_AXIS = 1e-9  # m


class SectionFields:
    """What is needed of a section to see fields on it.

    Parameters
    ----------
    section : Section
    orders : int
        0 … orders − 1.
    """

    def __init__(self, section: Section, orders: int) -> None:
        self.section, self.orders = section, orders
        mesh = section.mesh
        self.dofs: Ints = np.asarray(section.basis.element_dofs, dtype=np.int64)
        corner = mesh.points[:, section.basis.mesh.t]  # whose order is that of the unknowns
        jacobian = np.stack([corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]], axis=1)  # (2 rz, 2, n)
        self.inverse = np.linalg.inv(np.moveaxis(jacobian, -1, 0))  # (n, 2, 2 rz)
        self.origin = corner[:, 0]
        self.area = np.abs(jacobian[0, 0] * jacobian[1, 1] - jacobian[0, 1] * jacobian[1, 0]) / 2
        self.r = section.nodes[0][self.dofs]
        # a node of a part and the same node of the air are two places
        regions = mesh.region + 1
        key = self.dofs + section.unknowns * regions
        self.places, place = np.unique(key, return_inverse=True)
        self.place: Ints = np.asarray(place, dtype=np.int64).reshape(key.shape)
        self.weight = np.bincount(self.place.ravel(), np.broadcast_to(self.area, key.shape).ravel())

    @cached_property
    def _finder(self) -> Any:
        from matplotlib.tri import Triangulation  # here: most that is asked of a row looks nowhere else

        mesh = self.section.mesh
        return Triangulation(mesh.points[0], mesh.points[1], mesh.triangles.T).get_trifinder()

    @cached_property
    def _within(self) -> float:
        """How far the mesh reaches all round, m: the far boundary is a polygon."""
        middle = self.section.mesh.points[:, self.section.mesh.far_edges].mean(axis=1)
        return float(np.hypot(middle[0], middle[1] - self.section.mesh.far_centre).min()) * (1 - 1e-6)

    @cached_property
    def _empty(self) -> dict[int, Any]:
        """K₀ of the orders from 1, factored."""
        s = self.section
        one = np.full((s.basis.nelems, 1), MU0)
        return {m: factor(potential_matrix(s.basis, m, one, one)
                          + far_potential(m).assemble(s.far, rho=s.mesh.far_radius)) for m in range(1, self.orders)}

    def potential(self, m: int, charges: Array) -> Array:
        """v (unknowns,) of the charges (k,) of an order, A / m^m."""
        load = np.zeros(self.section.unknowns)
        load[self.section.pole] = MU0 * charges
        return np.asarray(self._empty[m].solve(load))

    def slopes(self, u: Array) -> Array:
        """∂_r and ∂_z of a P2 function at the nodes of every triangle, (2, 6, triangles)."""
        local = np.einsum("kjd,je->dke", _SLOPES, u[self.dofs])
        return np.asarray(np.einsum("dke,edx->xke", local, self.inverse))

    def averaged(self, values: Array) -> Array:
        """Means at the places of what triangles have at their nodes, (c, 6, triangles) to (c, places)."""
        return np.stack([np.bincount(self.place.ravel(), (self.area * v).ravel(), self.weight.size)
                         for v in values]) / self.weight

    def at(self, r: Array, z: Array, values: Array) -> tuple[Array, Ints]:
        """Values (orders, 3, places) at points (n,): (orders, 3, n), and the part there, −1 in air."""
        mesh = self.section.mesh
        out = np.hypot(r, z - mesh.far_centre) / self._within
        beyond = np.maximum(out, 1.0)
        r, z = r / beyond, mesh.far_centre + (z - mesh.far_centre) / beyond
        element = np.asarray(self._finder(r, z), dtype=np.int64)
        d = np.stack([r, z]) - self.origin[:, element]
        a, b = np.einsum("ndx,xn->dn", self.inverse[element], d)
        found = np.einsum("kn,mckn->mcn", _shapes(a, b), values[:, :, self.place[:, element]])
        powers = np.maximum(np.arange(len(values)), 1) + 2
        return found / beyond ** powers[:, None, None], mesh.region[element]


@dataclass(frozen=True, kw_only=True, eq=False)
class OwnField:
    """B_r, B_α and B_z of one pole at the places of its section, (orders, 3, places), T: cos mα, sin mα, cos mα."""

    fields: SectionFields
    values: Array

    def __call__(self, x: Array, y: Array, z: Array) -> tuple[Array, Ints]:
        """B (3, n) at points relative to its axis and face, (n,), and the part there."""
        r = np.hypot(x, y)
        values, part = self.fields.at(r, z, self.values)
        safe = np.where(r > _ON_AXIS, r, 1.0)
        c, s = np.where(r > _ON_AXIS, y / safe, 1.0), np.where(r > _ON_AXIS, x / safe, 0.0)  # α from +y
        turn = np.multiply.outer(np.arange(len(values)), np.arctan2(s, c))
        radial, up = (np.sum(values[:, k] * np.cos(turn), axis=0) for k in (0, 2))
        around = np.sum(values[:, 1] * np.sin(turn), axis=0)
        return np.stack([radial * s + around * c, radial * c - around * s, up]), part


class Everywhere:
    """B₀ of a solved row at any point.

    Parameters
    ----------
    row : SolvedRow
    fields_of : callable
        Gives the :class:`SectionFields` of a section, for so many orders.
    """

    def __init__(self, row: SolvedRow, fields_of: Callable[[Section, int], SectionFields] = SectionFields) -> None:
        self.places: tuple[PlacedPole, ...] = row.places
        known: dict[PoleShape, SectionFields] = {}
        self.own = []
        for i, place in enumerate(row.places):
            cells, charges = row.cells[place.shape], row.bias.charges[i]
            if place.shape not in known:
                known[place.shape] = fields_of(cells.section, len(charges))
            fields = known[place.shape]
            self.own.append(OwnField(fields=fields, values=_own(
                fields, row.bias.states[i], charges, row.bias.outer[i], cells.signal.mu, row.bias.waves[i])))

    def bias(self, points: Array) -> tuple[Array, Ints]:
        """B₀ (3, n) in T at points (3, n), m, and which pole they are in, by its index; −1 in air."""
        total, inside = np.zeros(points.shape), np.full(points.shape[1], -1)
        for i, (place, own) in enumerate(zip(self.places, self.own, strict=True)):
            b, part = own(points[0], points[1] - place.y, points[2] - place.face)
            total += b
            inside[part >= 0] = i
        return total, inside


def _own(fields: SectionFields, state: BiasState, charges: Array, outer: Array, mu: tuple[AxisPermeability, ...],
         waves: tuple[Array, ...] | None) -> Array:
    r, u = fields.r, state.u[fields.dofs]
    slope = fields.slopes(state.u)
    out = [fields.averaged(np.stack([-r * slope[1], np.zeros_like(r), 2 * u + r * slope[0]]))]
    section = fields.section
    for m in range(1, len(charges)):
        v = fields.potential(m, charges[m])
        h = _gradient(fields, m, v)
        b = MU0 * h
        others = np.zeros(section.unknowns)
        others[section.pole] = outer[m]
        h_ext = _gradient(fields, m, others)
        for i, own in enumerate(mu):
            part = np.flatnonzero(section.mesh.region == i)
            across, along = (_means(a, part.size) for a in (own.across, own.along))
            total = MU0 * np.stack([across, across, along])[:, None] * (h + h_ext)[:, :, part]
            if waves is not None and np.any(waves[i][m - 1]):
                total[2] = _to_nodes(section.parts[i]) @ waves[i][m - 1].T
            b[:, :, part] = total - MU0 * h_ext[:, :, part]
        out.append(fields.averaged(b))
    return np.stack(out)


def _gradient(fields: SectionFields, m: int, v: Array) -> Array:
    """H_r, H_α, H_z of r^m v cos mα at the nodes of every triangle, (3, 6, triangles)."""
    r, at, slope = fields.r, v[fields.dofs], fields.slopes(v)
    lower = r ** (m - 1)
    return np.stack([-lower * (m * at + r * slope[0]), m * lower * at, -lower * r * slope[1]])


def _means(permeability: Any, count: int) -> Array:
    """μ of every triangle of a part (count,)."""
    value = np.asarray(permeability, float)
    return np.full(count, float(value)) if value.ndim == 0 else np.broadcast_to(value.mean(axis=-1), (count,))


def _to_nodes(basis: Any) -> Array:
    """From values at a triangle's points to the P2 function nearest to them, at its nodes: (6, points)."""
    return np.asarray(np.linalg.pinv(_shapes(*basis.X).T))


def _shapes(a: Array, b: Array) -> Array:
    """P2 functions (6, n) at places (a, b) of the reference triangle: corners, then middles 01, 12, 02."""
    c = 1 - a - b
    return np.stack([c * (2 * c - 1), a * (2 * a - 1), b * (2 * b - 1), 4 * c * a, 4 * a * b, 4 * c * b])


def _shape_slopes() -> Array:
    """∂_a and ∂_b of each at each node, (nodes, functions, 2)."""
    a, b = _CORNERS.T
    c, zero = 1 - a - b, np.zeros(6)
    along_a = [1 - 4 * c, 4 * a - 1, zero, 4 * (c - a), 4 * b, -4 * b]
    along_b = [1 - 4 * c, zero, 4 * b - 1, -4 * a, 4 * a, 4 * (c - b)]
    return np.stack([np.stack(along_a), np.stack(along_b)], axis=-1).swapaxes(0, 1)


_SLOPES = _shape_slopes()
