r"""TEAM workshop problem 13: steel sheets about a coil, in the program's own 3-D solver.

A plate stands in a coil; two channels of bent sheet carry its flux round outside, each across a gap of 0.5 mm.
All of the steel is one nonlinear curve. Measured: mean B over sections (T. Nakata, K. Fujiwara, COMPEL 11(3), 1992).

Axes here: x of the problem is x, its z (the coil's axis) is y, its y is z, because a mesh can stop at y = 0. The
potential is odd about that plane. Swapping two axes mirrors the problem, which changes the sign of nothing that is
compared. Millimetres in the tables and in :class:`Fineness`, metres elsewhere.

All faces lie across an axis. So the mesh is a section of triangles in x and y, fine at the corners about the gaps,
drawn along z through levels that are fine at the edges of sheets: elements are long where the field is even, and
the singular edges cost little. A prism becomes three tetrahedra by the order of its corners, which agrees between
neighbours.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import hypot
from typing import Any

import numpy as np
import numpy.typing as npt

from rigs.fields.square_coil import SquareCoil
from stringflux.geometry.arrays import Array
from stringflux.geometry.kernel.session import gmsh_model
from stringflux.geometry.mesh.solid import SolidMesh
from stringflux.geometry.shapes.bodies import Box, SolidBody
from stringflux.geometry.shapes.symmetry import Symmetry
from stringflux.solver.materials import find_material
from stringflux.solver.materials.b_of_h import solid_law
from stringflux.solver.solid.bias import SolidState, solve_static
from stringflux.solver.solid.space import Elements, SolidSpace, solid_space

COIL = SquareCoil(corner=50e-3, inner=25e-3, outer=50e-3, height=100e-3, current=1000.0)
MM = 1e-3
SECTION = 3.2e-3 * 50e-3  # of every sheet, m²
GAP = 0.5  # mm

# place in mm: measured mean, T
PLATE = {0: 1.330, 10: 1.329, 20: 1.286, 30: 1.225, 40: 1.129, 50: 0.985, 60: 0.655}
FLANGE = {2.1: 0.259, 10: 0.453, 20: 0.554, 30: 0.637, 40: 0.698, 50: 0.755, 60: 0.809, 80: 0.901, 100: 0.945,
          110: 0.954, 122.1: 0.956}
WEB = {60: 0.960, 50: 0.965, 40: 0.970, 30: 0.974, 20: 0.981, 10: 0.984, 0: 0.985}

Span = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Fineness:
    """Sizes of elements, mm.

    In the section: in the sheets, on the faces of a gap, at the sharp edges there, where sheets bend; growth per mm
    in the air, about gaps and about edges. Along z: beside the edges of sheets, and at most within them, growing by
    `ratio`. `far`: radius of the air, and its half length.
    """

    sheet: float = 6.0
    face: float = 0.8
    edge: float = 0.2
    bend: float = 1.5
    air: float = 0.35
    rise: float = 0.3
    steep: float = 0.5
    level: float = 0.6
    longest: float = 12.0
    ratio: float = 3.0
    far: float = 400.0


@dataclass(frozen=True, kw_only=True)
class _Sheet:
    """A straight part in the half y ≥ 0: its rectangle, its length along z, its region, where it is cut along `axis`
    so that sections lie between elements; mm."""

    x: Span
    y: Span
    z: Span
    region: int
    axis: int
    cuts: tuple[float, ...] = ()

    def pieces(self) -> list[tuple[Span, Span]]:
        low, high = (self.x, self.y)[self.axis]
        ends = [low, *sorted(c for c in set(self.cuts) if low < c < high), high]
        spans = list(pairwise(ends))
        return [(s, self.y) if self.axis == 0 else (self.x, s) for s in spans]


def sheets(gap: float = GAP) -> tuple[_Sheet, ...]:
    """The plate; flange and web of the right channel; the same of the left one (each channel one region)."""
    start = 1.6 + gap
    cut = {part: tuple(c for span in spans.values() for c in span) for part, spans in sections(gap).items()}
    return (_Sheet(x=(-1.6, 1.6), y=(0, 63.2), z=(-25, 25), region=0, axis=1, cuts=cut["plate"]),
            _Sheet(x=(start, 122.1), y=(60, 63.2), z=(15, 65), region=1, axis=0, cuts=cut["flange"]),
            _Sheet(x=(122.1, 125.3), y=(0, 63.2), z=(15, 65), region=1, axis=1, cuts=(60, *cut["web"])),
            _Sheet(x=(-122.1, -start), y=(60, 63.2), z=(-65, -15), region=2, axis=0),
            _Sheet(x=(-125.3, -122.1), y=(0, 63.2), z=(-65, -15), region=2, axis=1, cuts=(60,)))


def sections(gap: float = GAP) -> dict[str, dict[float, Span]]:
    """Between which two places, mm, the flux at a measured place is taken: 1 mm to both sides. At the ends of a
    straight part as far inwards as the sheet is thick; at the open end 0.05 mm, because much flux comes in through
    the sides right behind it (0.3 mm would read a tenth more)."""
    start = 1.6 + gap
    flange = {at: (at - 1.0, at + 1.0) for at in FLANGE} | {2.1: (start, start + 0.05), 122.1: (118.9, 122.1)}
    sides = {at: (at - 1.0, at + 1.0) for at in (*PLATE, *WEB)} | {0: (0.0, 1.0)}
    return {"plate": {at: sides[at] for at in PLATE}, "flange": flange,
            "web": {at: sides[at] for at in WEB} | {60: (56.8, 60.0)}}


def half_mesh(size: Fineness, gap: float = GAP) -> SolidMesh:
    """The half y ≥ 0; regions: plate, right channel, left channel."""
    parts = sheets(gap)
    flat, triangles, part = _section(size, parts, gap)
    z = _levels(size)
    n = flat.shape[1]
    points = np.concatenate([np.tile(flat, (1, z.size)), np.repeat(z, n)[None]]) * MM
    a, b, c = np.sort(triangles, axis=0)
    tetrahedra, region = [], []
    for k, middle in enumerate((z[:-1] + z[1:]) / 2):
        of = np.array([p.region if p.z[0] < middle < p.z[1] else -1 for p in parts] + [-1])[part]  # last: air
        low, high = k * n, (k + 1) * n
        tetrahedra += [np.stack([a + low, b + low, c + low, c + high]),
                       np.stack([a + low, b + low, b + high, c + high]),
                       np.stack([a + low, a + high, b + high, c + high])]
        region += [of] * 3
    return _with_boundary(points, _upright(points, np.hstack(tetrahedra)), np.concatenate(region))


def _section(size: Fineness, parts: tuple[_Sheet, ...], gap: float) -> tuple[Array, npt.NDArray[Any],
                                                                             npt.NDArray[Any]]:
    """Points (2, n) in mm, triangles (3, m) and the number of the part each lies in, −1 in air."""
    with gmsh_model("sheets") as gmsh:
        occ = gmsh.model.occ
        disk = occ.addDisk(0, 0, 0, size.far, size.far)
        half = occ.addRectangle(-2 * size.far, 0, 0, 4 * size.far, 2 * size.far)
        air, _ = occ.intersect([(2, disk)], [(2, half)])
        owner, pieces = [], []
        for i, p in enumerate(parts):
            for (x0, x1), (y0, y1) in p.pieces():
                pieces.append((2, occ.addRectangle(x0, y0, 0, x1 - x0, y1 - y0)))
                owner.append(i)
        _, found = occ.fragment(air, pieces)
        occ.synchronize()
        of = {tag: i for i, piece in zip(owner, found[1:], strict=True) for _, tag in piece}
        for option in ("MeshSizeFromPoints", "MeshSizeFromCurvature", "MeshSizeExtendFromBoundary"):
            gmsh.option.setNumber(f"Mesh.{option}", 0)
        gmsh.model.mesh.setSizeCallback(_sizes(size, parts, gap))
        gmsh.model.mesh.generate(2)
        tags, xyz, _ = gmsh.model.mesh.getNodes()
        look = np.full(int(tags.max()) + 1, -1)
        look[tags.astype(int)] = np.arange(tags.size)
        triangles, part = [], []
        for _, surface in gmsh.model.getEntities(2):
            nodes = look[gmsh.model.mesh.getElementsByType(2, surface)[1].astype(int)].reshape(-1, 3).T
            triangles.append(nodes)
            part.append(np.full(nodes.shape[1], of.get(surface, -1)))
    return xyz.reshape(-1, 3)[:, :2].T.copy(), np.hstack(triangles), np.concatenate(part)


def _sizes(size: Fineness, parts: tuple[_Sheet, ...], gap: float) -> Callable[..., float]:
    start = 1.6 + gap
    boxes = [(p.x, p.y) for p in parts]
    faces = [((1.6, start), (60.0, 63.2)), ((-start, -1.6), (60.0, 63.2))]
    edges = [(s * x, y) for s in (1, -1) for x, y in ((1.6, 63.2), (start, 60.0), (start, 63.2))]

    def away(x: float, y: float, box: tuple[Span, Span]) -> float:
        return hypot(*(max(low - c, 0.0, c - high) for c, (low, high) in zip((x, y), box, strict=True)))

    def at(dim: int, tag: int, x: float, y: float, z: float, lc: float) -> float:
        return float(min(size.sheet + size.air * min(away(x, y, box) for box in boxes),
                         size.face + size.rise * min(away(x, y, box) for box in faces),
                         size.edge + size.steep * min(hypot(x - a, y - b) for a, b in edges),
                         size.bend + size.steep * hypot(abs(x) - 122.1, y - 60.0),
                         3 * size.bend + size.steep * hypot(abs(x) - 125.3, y - 63.2)))

    return at


def _levels(size: Fineness) -> Array:
    """Levels of z, mm, alike on both sides of z = 0; four times as wide at z = 65, where sheets face air alone."""
    z = [0.0]
    for low, high, first, last in ((0.0, 15.0, size.longest, size.level), (15.0, 25.0, size.level, size.level),
                                   (25.0, 65.0, size.level, 4 * size.level)):
        up, down = [], []
        while sum(up) + sum(down) < high - low:
            if first <= last:
                up.append(first)
                first = min(first * size.ratio, size.longest)
            else:
                down.append(last)
                last = min(last * size.ratio, size.longest)
        steps = np.array(up + down[::-1])
        z += list(low + np.cumsum(steps) * (high - low) / steps.sum())
    step = 4 * size.level
    while z[-1] + step < 0.8 * size.far:
        z.append(z[-1] + step)
        step *= size.ratio
    z.append(size.far)
    return np.concatenate([-np.array(z[:0:-1]), z])


def _upright(points: Array, t: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """The tetrahedra with their last two corners exchanged where they are turned inside out."""
    d = points[:, t[1:]] - points[:, t[:1]]
    inside_out = np.einsum("ie,ie->e", d[:, 0], np.cross(d[:, 1], d[:, 2], axis=0)) < 0
    t[2:, inside_out] = t[2:, inside_out][::-1]
    return t


def _with_boundary(points: Array, tetrahedra: npt.NDArray[Any], region: npt.NDArray[Any]) -> SolidMesh:
    faces = np.sort(np.concatenate([tetrahedra[list(f)] for f in ((0, 1, 2), (0, 1, 3), (0, 2, 3), (1, 2, 3))],
                                   axis=1), axis=0)
    unique, count = np.unique(faces, axis=1, return_counts=True)
    outer = unique[:, count == 1]
    flat = np.max(np.abs(points[1, outer]), axis=0) < 1e-9
    return SolidMesh(points=points, tetrahedra=tetrahedra, region=region, far_facets=outer[:, ~flat],
                     planes={1: outer[:, flat]}, symmetry=Symmetry(y=True))


@dataclass(frozen=True, kw_only=True, eq=False)
class Solved:
    """Fields in the sheets of a mesh, with the gap in mm."""

    space: SolidSpace
    state: SolidState
    gap: float

    def mean(self, region: int, axis: int, low: float, high: float) -> float:
        """Mean B along `axis` over a sheet's section, between two places in mm a little apart.

        From the flux Φ = ∫ B·∇χ dV, χ rising from 0 to 1 there; elements end at both places. The solution conserves
        this flux; means of B at points are worse where |B| is small, because B hangs on H very steeply there.
        """
        e = self.space.bodies[region]
        chi = np.clip((self.space.nodes[axis] / MM - low) / (high - low), 0.0, 1.0)
        return float(np.sum(self.state.b[region] * e.field(chi) * e.weight) / SECTION)


def solve(mesh: SolidMesh, gap: float = GAP,
          progress: Callable[[int, float], None] = lambda n, r: None) -> Solved:
    space = solid_space(mesh)
    body = SolidBody(name="sheet", material="steel-test-13", form=Box(low=(-1e-3,) * 3, high=(1e-3,) * 3))
    law = solid_law(body, find_material(body.material))
    state = solve_static(space, [law] * len(space.bodies), odd=(1,), soft=[True] * len(space.bodies),
                         sources=[coil_field(e) for e in space.bodies], progress=progress)
    return Solved(space=space, state=state, gap=gap)


def coil_field(e: Elements) -> Array:
    """H of the coil at the points of some elements, in the axes used here."""
    swap = [0, 2, 1]
    return COIL.field(e.points[swap])[swap]


def table(solved: Solved) -> list[tuple[str, float, float, float]]:
    """Part, place in mm, measured and computed mean B in T."""
    spans = sections(solved.gap)
    rows = []
    for part, measured, region, axis, sign in (("plate", PLATE, 0, 1, 1.0), ("flange", FLANGE, 1, 0, 1.0),
                                               ("web", WEB, 1, 1, -1.0)):
        rows += [(part, at, b, sign * solved.mean(region, axis, *spans[part][at])) for at, b in measured.items()]
    return rows


def printed(rows: list[tuple[str, float, float, float]]) -> str:
    """The table as text."""
    head = f"{'part':8}{'mm':>7}{'measured T':>12}{'computed T':>12}{'error %':>9}"
    lines = (f"{part:8}{at:7.1f}{measured:12.3f}{computed:12.3f}{100 * (computed / measured - 1):9.1f}"
             for part, at, measured, computed in rows)
    return "\n".join([head, *lines])


if __name__ == "__main__":  # python tests/run.py team13 [gap=0.6] [sheet=3 edge=0.06 …]: one line of the mesh study
    given = {key: float(value) for key, value in (word.split("=") for word in sys.argv[1:])}
    width = given.pop("gap", GAP)
    answer = solve(half_mesh(Fineness(**given), width), width,
                   progress=lambda n, r: print(f"step {n}: {r:.1e}", file=sys.stderr, flush=True))
    print(f"{answer.space.unknowns} unknowns, gap {width} mm, {given}\n{printed(table(answer))}")
