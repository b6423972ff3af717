r"""TEAM workshop problem 13: steel sheets about a coil, in the program's own 3-D solver.

A plate stands in a coil; two channels of bent sheet carry its flux round outside, each across a gap of 0.5 mm.
All of the steel is one nonlinear curve. Measured: mean B over sections (T. Nakata, K. Fujiwara, COMPEL 11(3), 1992).

Axes here: x of the problem is x, its z (the coil's axis) is y, its y is z, because a mesh can stop at y = 0. The
potential is odd about that plane. Swapping two axes mirrors the problem, which changes the sign of nothing that is
compared. Millimetres in the tables, metres elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import hypot
from typing import Any

import numpy as np
import numpy.typing as npt
from square_coil import SquareCoil

from stringflux.geometry.arrays import Array
from stringflux.geometry.gmsh_session import gmsh_model
from stringflux.geometry.solid_mesh import SolidMesh
from stringflux.geometry.solid_shapes import Box, SolidBody
from stringflux.solver.materials import find_material
from stringflux.solver.solid_bias import SolidState, solve_static
from stringflux.solver.solid_law import solid_law
from stringflux.solver.solid_space import Elements, SolidSpace, solid_space

COIL = SquareCoil(corner=50e-3, inner=25e-3, outer=50e-3, height=100e-3, current=1000.0)
MM = 1e-3
SECTION = 3.2e-3 * 50e-3  # of every sheet, m²

# place in mm: measured mean, T
PLATE = {0: 1.330, 10: 1.329, 20: 1.286, 30: 1.225, 40: 1.129, 50: 0.985, 60: 0.655}
FLANGE = {2.1: 0.259, 10: 0.453, 20: 0.554, 30: 0.637, 40: 0.698, 50: 0.755, 60: 0.809, 80: 0.901, 100: 0.945,
          110: 0.954, 122.1: 0.956}
WEB = {60: 0.960, 50: 0.965, 40: 0.970, 30: 0.974, 20: 0.981, 10: 0.984, 0: 0.985}


def _box(name: str, x: tuple[float, float], y: tuple[float, float], z: tuple[float, float]) -> SolidBody:
    low, high = ((x[i] * MM, y[i] * MM, z[i] * MM) for i in (0, 1))
    return SolidBody(name=name, material="steel-test-13", form=Box(low=low, high=high))


def sheets() -> tuple[SolidBody, ...]:
    """The plate; web, upper and lower flange of the right channel; the same of the left one."""
    out = [_box("plate", (-1.6, 1.6), (-63.2, 63.2), (-25, 25))]
    for name, x_web, x_flange, z in (("right", (122.1, 125.3), (2.1, 122.1), (15, 65)),
                                     ("left", (-125.3, -122.1), (-122.1, -2.1), (-65, -15))):
        out += [_box(f"{name} web", x_web, (-63.2, 63.2), z),
                _box(f"{name} upper flange", x_flange, (60, 63.2), z),
                _box(f"{name} lower flange", x_flange, (-63.2, -60), z)]
    return tuple(out)


@dataclass(frozen=True, kw_only=True)
class Fineness:
    """Sizes of elements, m: in the sheets, where sheets bend, at the gaps, and at the sharp edges there; growth per
    metre about the gaps and edges, and in the air; radius of the far boundary."""

    sheet: float = 4.0e-3
    bend: float = 1.5e-3
    gap: float = 0.8e-3
    edge: float = 0.15e-3
    rise: float = 0.25
    steep: float = 0.4
    air: float = 0.35
    far: float = 0.5


def half_mesh(size: Fineness) -> SolidMesh:
    """The half y ≥ 0; regions: plate, right channel, left channel (each channel one body, as it was bent)."""
    owner = {"plate": 0, "right": 1, "left": 2}
    with gmsh_model("sheets") as gmsh:
        occ = gmsh.model.occ
        boxes, regions = [], []
        for body in sheets():
            (x0, y0, z0), (x1, y1, z1) = body.form.bounds
            if y1 > 0:
                y0 = max(y0, 0.0)
                boxes.append((3, occ.addBox(x0, y0, z0, x1 - x0, y1 - y0, z1 - z0)))
                regions.append(owner[body.name.split()[0]])
        ball = occ.addSphere(0, 0, 0, size.far)
        half = occ.addBox(-2 * size.far, 0, -2 * size.far, 4 * size.far, 2 * size.far, 4 * size.far)
        air, _ = occ.intersect([(3, ball)], [(3, half)])
        _, pieces = occ.fragment(air, boxes)
        occ.synchronize()
        of = {tag: region for region, piece in zip(regions, pieces[1:], strict=True) for _, tag in piece}
        for option in ("MeshSizeFromPoints", "MeshSizeFromCurvature", "MeshSizeExtendFromBoundary"):
            gmsh.option.setNumber(f"Mesh.{option}", 0)
        gmsh.option.setNumber("Mesh.Algorithm3D", 10)
        gmsh.model.mesh.setSizeCallback(_sizes(size))
        gmsh.model.mesh.generate(3)
        tags, xyz, _ = gmsh.model.mesh.getNodes()
        look = np.full(int(tags.max()) + 1, -1)
        look[tags.astype(int)] = np.arange(tags.size)
        tetrahedra, region = [], []
        for _, volume in gmsh.model.getEntities(3):
            nodes = look[gmsh.model.mesh.getElementsByType(4, volume)[1].astype(int)].reshape(-1, 4).T
            tetrahedra.append(nodes)
            region.append(np.full(nodes.shape[1], of.get(volume, -1)))
    return _with_boundary(xyz.reshape(-1, 3).T.copy(), np.hstack(tetrahedra), np.concatenate(region))


def _sizes(size: Fineness) -> Callable[..., float]:
    boxes = [tuple(zip(*body.form.bounds, strict=True)) for body in sheets()]
    # what faces a gap: the flanges' ends and the plate's end between them
    gaps = [((-2.1 * MM, 2.1 * MM), (60 * MM, 63.2 * MM), (-65 * MM, 65 * MM))]
    # where the flanges' ends face the plate, its edges and theirs
    edges = [((s * x, s * x), (y, y), (14 * MM, 26 * MM) if s > 0 else (-26 * MM, -14 * MM))
             for s in (1, -1) for x, y in ((2.1 * MM, 60 * MM), (2.1 * MM, 63.2 * MM), (1.6 * MM, 63.2 * MM))]
    edges += [((s * x, s * x), (60 * MM, 63.2 * MM), (s * z, s * z))
              for s in (1, -1) for x, z in ((1.6 * MM, 25 * MM), (2.1 * MM, 15 * MM))]
    bends = [((122.1 * MM, 122.1 * MM), (60 * MM, 60 * MM), (15 * MM, 65 * MM)),
             ((-122.1 * MM, -122.1 * MM), (60 * MM, 60 * MM), (-65 * MM, -15 * MM))]

    def away(x: float, y: float, z: float, box: Any) -> float:
        return hypot(*(max(low - c, 0.0, c - high) for c, (low, high) in zip((x, y, z), box, strict=True)))

    def at(dim: int, tag: int, x: float, y: float, z: float, lc: float) -> float:
        sheet = min(away(x, y, z, box) for box in boxes)
        gap = min(away(x, y, z, box) for box in gaps)
        bend = min(away(x, y, z, box) for box in bends)
        edge = min(away(x, y, z, box) for box in edges)
        return float(min(size.sheet + size.air * sheet, size.gap + size.rise * gap, size.bend + size.rise * bend,
                         size.edge + size.steep * edge))

    return at


def _with_boundary(points: Array, tetrahedra: npt.NDArray[Any], region: npt.NDArray[Any]) -> SolidMesh:
    faces = np.sort(np.concatenate([tetrahedra[list(f)] for f in ((0, 1, 2), (0, 1, 3), (0, 2, 3), (1, 2, 3))],
                                   axis=1), axis=0)
    unique, count = np.unique(faces, axis=1, return_counts=True)
    outer = unique[:, count == 1]
    flat = np.max(np.abs(points[1, outer]), axis=0) < 1e-9
    return SolidMesh(points=points, tetrahedra=tetrahedra, region=region, far_facets=outer[:, ~flat],
                     planes={1: outer[:, flat]}, mirrored=(False, True))


@dataclass(frozen=True, kw_only=True, eq=False)
class Solved:
    """Fields in the sheets of a mesh."""

    space: SolidSpace
    law: Any
    state: SolidState

    def mean(self, region: int, axis: int, low: float, high: float) -> float:
        """Mean B along `axis` over a sheet's section, between two places in mm a little apart.

        From the flux Φ = ∫ B·∇χ dV, χ rising from 0 to 1 there, over the nodes of the mesh. The solution conserves
        this flux; means of B at points are worse where |B| is small, because B hangs on H very steeply there.
        """
        e = self.space.bodies[region]
        chi = np.clip((self.space.nodes[axis] / MM - low) / (high - low), 0.0, 1.0)
        return float(np.sum(self.state.b[region] * e.field(chi) * e.weight) / SECTION)


def solve(mesh: SolidMesh, progress: Callable[[int, float], None] = lambda n, r: None) -> Solved:
    space = solid_space(mesh)
    law = solid_law(sheets()[0], find_material("steel-test-13"))
    state = solve_static(space, [law] * len(space.bodies), odd=(1,), soft=[True] * len(space.bodies),
                         sources=[coil_field(e) for e in space.bodies], progress=progress)
    return Solved(space=space, law=law, state=state)


def coil_field(e: Elements) -> Array:
    """H of the coil at the points of some elements, in the axes used here."""
    swap = [0, 2, 1]
    return COIL.field(e.points[swap])[swap]


def table(solved: Solved) -> list[tuple[str, float, float, float]]:
    """Part, place in mm, measured and computed mean B in T."""
    plate, right = 0, 1
    rows = [("plate", at, b, solved.mean(plate, 1, max(at - 1, 0), at + 1)) for at, b in PLATE.items()]
    for at, b in FLANGE.items():
        rows.append(("flange", at, b, solved.mean(right, 0, *_beside(at, 2.1, 122.1))))
    rows += [("web", at, b, -solved.mean(right, 1, *_beside(at, 0, 60))) for at, b in WEB.items()]
    return rows


def _beside(at: float, first: float, last: float) -> tuple[float, float]:
    """1 mm to both sides; at the ends of a straight part as far inwards as the sheet is thick, or at an open end
    next to a gap as far as the flux has not changed."""
    if at == last:
        return at - 3.2, at
    return (at, at + 0.3) if at == first else (at - 1.0, at + 1.0)
