"""The section of a pole as plain arrays: field lines and |B| for figures and for other programs."""

from __future__ import annotations

import numpy as np

from stringflux.solver.section.bias import BiasState
from stringflux.solver.section.space import Section

from ..records.prediction import SectionRecord


def section_record(section: Section, state: BiasState) -> SectionRecord:
    """Corner values of 2π r A_φ and B at the triangles' middles, of the pole's own bias field.

    A_φ = r u; at the middle of a triangle B_r = −r ∂_z u, B_z = 2u + r ∂_r u of the P2 function.
    """
    mesh = section.mesh
    n = mesh.points.shape[1]
    u = state.u
    corners = u[section.basis.nodal_dofs[0]]
    r = mesh.points[0]
    middle = np.array([[1 / 3], [1 / 3]])
    mapping = section.basis.mapping
    x = mapping.F(middle)[:, :, 0]
    value = np.zeros(mesh.triangles.shape[1])
    grad = np.zeros((2, mesh.triangles.shape[1]))
    for i in range(section.basis.Nbfun):
        f = section.basis.elem.gbasis(mapping, middle, i)[0]
        dof = u[section.basis.element_dofs[i]]
        value += dof * np.asarray(f)[..., 0]
        grad += dof * f.grad[:, :, 0]
    b = np.stack([-x[0] * grad[1], 2 * value + x[0] * grad[0]])
    return SectionRecord(points=mesh.points, triangles=mesh.triangles, region=mesh.region,
                         flux=2 * np.pi * r**2 * corners[:n], b=b,
                         parts=tuple(part.material for part in section.shape.parts))
