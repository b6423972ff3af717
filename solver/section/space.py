"""The finite element space of one section, of a pole or of bars, shared by its bias and its small-signal cells.

P2 triangles in (r, z), or in (x, z) for bars. The unknowns are the fields divided by their power of r at the axis
(see :mod:`.forms`), so no condition is needed on the axis and every integral of a constant material is a
polynomial, integrated exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
from skfem import Basis, BoundaryFacetBasis, ElementTriP2, MeshTri

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.pole import Quality, SectionMesh, section_mesh
from stringflux.geometry.shapes.row import PartShape, PoleShape
from stringflux.geometry.shapes.section import PlaneShape

from ..constants import NU0
from ..stages import Keep, made_anew
from .forms import AXISYMMETRIC, Formulation
from .operators import PointOperators, flux_matrix, mass_matrix, point_operators

INTORDER = 6  # exact for the quadratic forms with the weight r (degree 5)
_FAR_INTORDER = 8
_MOST_KEPT = 64


@dataclass(frozen=True, eq=False)
class Section:
    """P2 space on the mesh of one section.

    Attributes
    ----------
    shape : PoleShape or PlaneShape
    mesh : SectionMesh
    basis, air, parts, far : skfem bases on everything, the air, each part and the far boundary
    nodes : array (2, n)
        r, z of every unknown.
    pole : int array (k,)
        The unknowns that belong to a part.
    formulation : Formulation
        Weight, curl and far boundary of its flux form.
    """

    shape: Any
    mesh: SectionMesh
    basis: Any
    air: Any
    parts: tuple[Any, ...]
    far: Any
    nodes: Array
    pole: npt.NDArray[np.int64]
    formulation: Formulation = AXISYMMETRIC

    @property
    def unknowns(self) -> int:
        return int(self.basis.N)

    @cached_property
    def points(self) -> list[PointOperators]:
        """Gradient and curl at the quadrature points of each part."""
        return [point_operators(b, self.formulation) for b in self.parts]

    @cached_property
    def linear(self) -> Any:
        """The flux form of the air and of what lies beyond the far boundary."""
        form, x = self.formulation, np.asarray(self.far.global_coordinates())[0]
        beyond = NU0 / self.mesh.far_radius * form.scale(x) ** 2 * form.weight(x)
        return flux_matrix(self.air, form) + mass_matrix(self.far, beyond)

    def __getstate__(self) -> dict[str, Any]:
        return {k: v for k, v in self.__dict__.items() if k not in ("points", "linear")}


_KEPT: dict[tuple[PoleShape, Quality], Section] = {}


def section(shape: PoleShape, quality: Quality, keep: Keep = made_anew) -> Section:
    """Mesh a pole's section and set up its P2 space (the last ones are kept here, whatever they are made of)."""
    form = bare(shape)
    key = (form, quality)
    if key not in _KEPT:
        mesh = keep("mesh", key, lambda: section_mesh(form, quality))
        _KEPT[key] = section_from_mesh(form, mesh)
        while len(_KEPT) > _MOST_KEPT:
            _KEPT.pop(next(iter(_KEPT)))
    return replace(_KEPT[key], shape=shape)


def forget_sections() -> None:
    """Drop the kept ones."""
    _KEPT.clear()


def bare(shape: PoleShape) -> PoleShape:
    """The outlines of a shape, all of no material: what a mesh depends on."""
    return PoleShape(parts=tuple(PartShape(material="", outline=part.outline) for part in shape.parts))


def section_from_mesh(shape: PoleShape | PlaneShape, mesh: SectionMesh,
                      formulation: Formulation = AXISYMMETRIC) -> Section:
    """The P2 space on a given mesh."""
    tri = MeshTri(mesh.points, mesh.triangles)
    element = ElementTriP2()
    parts = tuple(Basis(tri, element, elements=np.flatnonzero(mesh.region == i), intorder=INTORDER)
                  for i in range(len(shape.parts)))
    far_facets = _facets(tri, mesh.far_edges)
    basis = Basis(tri, element, intorder=INTORDER)
    return Section(
        shape=shape, mesh=mesh, basis=basis,
        air=Basis(tri, element, elements=np.flatnonzero(mesh.region < 0), intorder=INTORDER),
        parts=parts, far=BoundaryFacetBasis(tri, element, facets=far_facets, intorder=_FAR_INTORDER),
        nodes=basis.doflocs,
        pole=np.unique(np.concatenate([p.element_dofs.ravel() for p in parts])),
        formulation=formulation,
    )


def finer(basis: Any) -> Any:
    """The same functions with points enough for σ r³ u w (degree 7)."""
    return Basis(basis.mesh, basis.elem, elements=basis.tind, intorder=INTORDER + 1)


def _facets(tri: Any, edges: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Facet numbers of the edges given by their end points."""
    every, some = (low + tri.p.shape[1] * high
                   for low, high in (np.sort(e, axis=0).astype(np.int64) for e in (tri.facets, edges)))
    return np.flatnonzero(np.isin(every, some))
