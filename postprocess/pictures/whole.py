"""The static field in all of a 3-D mesh: one B for each element, of a build one H too.

In a body B and H are means over the element's four points, in air −μ0 ∇φ is, to which direct currents in coils add
theirs at the middle. Where only a half or a quarter was
meshed the rest are its mirror images, in which φ is even or odd: even, B's normal part changes sign, odd, the others
do. A row is solved on no such mesh: one of its bodies is filled with B in the middle of each element, of
:mod:`...solver.row.everywhere`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.solid import SolidMesh
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.solver.constants import MU0
from stringflux.solver.row.everywhere import Everywhere
from stringflux.solver.solid.solve import SolvedSolid
from stringflux.solver.solid.space import elements_of, nodes_of, shape_functions, unknowns_of

Ints = npt.NDArray[np.int64]
_AT_ONCE = 20_000  # elements of air: what their gradients take is some kB each
_ON, _SAME = 1e-12, 1e-8  # m: of points on a plane of symmetry, of bounds of images
_MIRRORED = [1, 0, 2, 3, 4, 6, 5, 8, 7, 9]
"""The ten nodes of an element's image, so that its volume stays positive."""


@dataclass(frozen=True, kw_only=True, eq=False)
class WholeField:
    """A mesh with the static field.

    Attributes
    ----------
    points : array (3, n)
        m.
    elements : int array (10, m)
        Tetrahedra of second order: corners, then the middles of the edges 01, 12, 02, 03, 13, 23.
    region : int array (m,)
        Index into `names`.
    names : tuple of str
        "air", then the bodies' names.
    b : array (3, m)
        T.
    h : array (3, m), optional
        A/m; a row does not tell it.
    """

    points: Array
    elements: Ints
    region: Ints
    names: tuple[str, ...]
    b: Array
    h: Array | None = None


def whole_field(solved: SolvedSolid) -> WholeField:
    """The field of magnets, steel and direct currents in every element, as it is without strings."""
    space = solved.space
    mesh = space.mesh
    t = mesh.tetrahedra
    dofs = unknowns_of(mesh)
    b, h = np.empty((3, t.shape[1])), np.empty((3, t.shape[1]))
    for k, body in enumerate(space.bodies):
        own = mesh.region == k
        share = body.weight / body.weight.sum(axis=1, keepdims=True)
        b[:, own] = np.einsum("ceq,eq->ce", solved.bias.b[k], share)
        h[:, own] = np.einsum("ceq,eq->ce", solved.bias.h[k], share)
    air = np.flatnonzero(mesh.region < 0)
    for some in np.array_split(air, max(1, -(-air.size // _AT_ONCE))):
        e = elements_of(space.nodes, dofs[:, some])
        share = e.weight / e.weight.sum(axis=1, keepdims=True)
        h[:, some] = -np.einsum("eqcd,de,eq->ce", e.gradient, solved.bias.phi[e.dofs], share)
        h[:, some] += solved.field.direct.field(e.points.mean(axis=2)) / MU0
    b[:, air] = MU0 * h[:, air]
    points, elements, region = space.nodes, dofs, mesh.region + 1
    for axis in mesh.symmetry.axes:
        sign = np.ones(3)
        sign[axis] = -1.0
        image = points * sign[:, None]
        off = np.abs(points[axis]) > _ON
        number = np.arange(points.shape[1])
        number[off] = points.shape[1] + np.arange(np.count_nonzero(off))
        others = _images(solved.bodies, axis)
        points = np.concatenate([points, image[:, off]], axis=1)
        elements = np.concatenate([elements, number[elements[_MIRRORED]]], axis=1)
        region = np.concatenate([region, others[region]])
        turn = (-sign if axis in solved.odd else sign)[:, None]
        b, h = (np.concatenate([v, turn * v], axis=1) for v in (b, h))
    return WholeField(points=points, elements=elements, region=region, b=b, h=h,
                      names=("air", *(body.name for body in solved.bodies)))


def whole_row(mesh: SolidMesh, bodies: Sequence[SolidBody], everywhere: Everywhere) -> WholeField:
    """The field of all poles of a row in the middle of every element of a whole mesh, as it is without strings."""
    elements = unknowns_of(mesh)
    nodes = nodes_of(mesh)
    middle = np.einsum("ken,k->en", np.moveaxis(nodes[:, elements], 0, 2), shape_functions(np.full(4, 0.25)))
    b = np.empty(middle.T.shape)
    for some in np.array_split(np.arange(len(middle)), max(1, -(-len(middle) // _AT_ONCE))):
        b[:, some] = everywhere.bias(middle[some].T)[0]
    return WholeField(points=nodes, elements=elements, region=mesh.region + 1, b=b,
                      names=("air", *(body.name for body in bodies)))


def _images(bodies: Sequence[SolidBody], axis: int) -> Ints:
    """Region of what is the mirror image of each region; air is that of air."""
    bounds = np.array([body.form.bounds for body in bodies])
    mirrored = bounds.copy()
    mirrored[:, :, axis] = -bounds[:, ::-1, axis]
    found = [0]
    for k, body in enumerate(bodies):
        same = [j for j, other in enumerate(bodies) if other.material == body.material
                and np.max(np.abs(bounds[j] - mirrored[k])) < _SAME]
        found.append(1 + (k if k in same or not same else same[0]))
    return np.array(found)
