r"""One finite element space whose wheel turns: the unknowns of two sheets, joined on the circle between them.

A is a scalar in the plane, and steel is the same in every direction. So what an element adds to a matrix does not
know that it was turned; only who meets whom on the circle changes. With Q from the joined unknowns to those of both
sheets::

    K = Qᵀ (K_sensor ⊕ K_wheel) Q,   likewise B = C Q u,   the load Qᵀ l

Turned by k of the N edges of the circle, unknown i of the wheel's circle is unknown i + 2k of the sensor's, counted
over corners and middles of edges. Fields on the wheel come out in its own frame, which turns with it.

References
----------
Sliding on a circle in the gap: B. Davat, Z. Ren, M. Lajoie-Mazenc, "The movement in field modeling", *IEEE Trans.
Magn.* 21 (1985) 2296 (memory). With P2 as here: derived here.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_matrix

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.wheel import LEFT, RIGHT, SlidingMesh
from stringflux.geometry.shapes.tooth_wheel import WheelBuild

from ..section.forms import PLANAR
from ..section.operators import PointOperators
from ..section.space import Section, section_from_mesh

Ints = npt.NDArray[np.int64]
_ON = 1e-6  # of the radius


@dataclass(frozen=True, kw_only=True, eq=False)
class TurnedPoints(PointOperators):
    """Operators of a part on the joined unknowns.

    Attributes
    ----------
    joined : sparse (n of both sheets, n)
        Q.
    """

    joined: Any

    def _form(self, t: Array, functions: Array) -> Any:
        return self.joined.T @ super()._form(t, functions) @ self.joined


@dataclass(frozen=True, kw_only=True, eq=False)
class TurnedSection(Section):
    """The space with the wheel at one angle: a :class:`.Section` of the joined unknowns.

    Attributes
    ----------
    sheets : Section
        Both sheets, not joined.
    joined : sparse (n of both sheets, n)
        Q.
    """

    sheets: Section
    joined: Any

    @property
    def unknowns(self) -> int:
        return int(self.joined.shape[1])

    @cached_property
    def points(self) -> list[PointOperators]:
        q = self.joined
        return [TurnedPoints(**{f.name: getattr(p, f.name) for f in fields(PointOperators)}
                             | {"gradient": p.gradient @ q, "curl": p.curl @ q}, joined=q)
                for p in self.sheets.points]

    @cached_property
    def linear(self) -> Any:
        return self.joined.T @ self.sheets.linear @ self.joined


@dataclass(frozen=True, kw_only=True, eq=False)
class SlidingSpace:
    """Both sheets and how they meet.

    Attributes
    ----------
    build : WheelBuild
    mesh : SlidingMesh
    sheets : Section
    fixed, turning : int arrays (2 N,)
        The unknowns on the circle of the sensor's sheet and of the wheel's, from −z towards +x: corners and middles
        of the N edges in turn.
    """

    build: WheelBuild
    mesh: SlidingMesh
    sheets: Section
    fixed: Ints
    turning: Ints

    @property
    def steps(self) -> int:
        """Edges of the circle for one tooth."""
        return self.mesh.steps

    def turned(self, k: int) -> TurnedSection:
        """The wheel turned by k edges from −z towards +x, a tooth being over the face at k = 0."""
        n, ring = self.sheets.unknowns, self.fixed.size
        meets = np.arange(n)
        meets[self.turning] = self.fixed[(np.arange(ring) + 2 * k) % ring]
        kept = np.ones(n, dtype=bool)
        kept[self.turning] = False
        column = (np.cumsum(kept) - 1)[meets]
        joined = csr_matrix((np.ones(n), (np.arange(n), column)), shape=(n, int(kept.sum())))
        own = {f.name: getattr(self.sheets, f.name) for f in fields(Section)}
        parts = np.unique(column[self.sheets.pole])
        return TurnedSection(**own | {"nodes": self.sheets.nodes[:, kept], "pole": parts}, sheets=self.sheets,
                             joined=joined)

    @cached_property
    def linked(self) -> Array:
        """c with c·(unknowns of both sheets) = mean of A over the coil's side at x > 0 less that at x < 0."""
        out = np.zeros(self.sheets.unknowns)
        for region, sign in ((RIGHT, 1.0), (LEFT, -1.0)):
            out += sign * self._mean(region)
        return out

    def _mean(self, region: int) -> Array:
        from skfem import Basis, LinearForm

        basis = Basis(self.sheets.basis.mesh, self.sheets.basis.elem,
                      elements=np.flatnonzero(self.mesh.mesh.region == region), intorder=2)
        return np.asarray(LinearForm(lambda v, w: v).assemble(basis)) / float(basis.dx.sum())


def sliding_space(build: WheelBuild, mesh: SlidingMesh) -> SlidingSpace:
    """The P2 space on both sheets."""
    sheets = section_from_mesh(build.shape, mesh.mesh, PLANAR)
    dofs = sheets.basis.element_dofs
    edges = mesh.steps * build.wheel.teeth
    fixed, turning = (_on_circle(sheets.nodes, np.unique(dofs[:, own]), build, edges)
                      for own in (~mesh.wheel, mesh.wheel))
    return SlidingSpace(build=build, mesh=mesh, sheets=sheets, fixed=fixed, turning=turning)


def _on_circle(nodes: Array, own: Ints, build: WheelBuild, edges: int) -> Ints:
    """A sheet's unknowns on the circle, in order."""
    x, z = nodes[0, own], build.centre - nodes[1, own]
    rho, at = np.hypot(x, z), np.arctan2(x, z) * edges / np.pi
    place = np.round(at).astype(np.int64)
    radius = np.where(place % 2 == 0, build.ring, build.ring * np.cos(np.pi / edges))
    on = (np.abs(rho / radius - 1) < _ON / edges) & (np.abs(at - place) < 1e-3)
    out = np.full(2 * edges, -1)
    out[place[on] % (2 * edges)] = own[on]
    if np.count_nonzero(on) != 2 * edges or np.any(out < 0):
        raise RuntimeError("the circle of a sliding mesh has other nodes than it should")
    return out
