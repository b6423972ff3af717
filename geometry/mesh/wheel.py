r"""The mesh of a wheel before a sensor: two sheets that meet on a circle in the gap, and slide on it.

The circle of radius R + g/2 about the wheel's axis carries nodes at equal angles, n·s of them for n teeth. Inside of
it lies the wheel's sheet, made of one half tooth and its images; outside of it the sensor's, of one half and its
image. Both have all nodes of the circle. Turned by whole steps the wheel's nodes lie on the sensor's again: the
elements never change, and so no noise of meshes comes into what depends on the angle. That λ is even and periodic in
the angle holds to rounding.

Sizes: the gap over `layers` at the face, as fine on the circle and on tooth tops, finer at corners, growing away.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ..arrays import Array
from ..kernel.session import gmsh_model
from ..shapes.tooth_wheel import WheelBuild
from .pole import SectionMesh, polygon
from .sizes import use_sizes

Ints = npt.NDArray[np.int64]
AIR, LEFT, RIGHT = -1, -2, -3
"""Regions without a part: air, and the coil's sides at x < 0 and x > 0."""
_Sizes = tuple[float, float, list[int]]
"""A size, its growth and the tags of curves or points."""

_CORE = 0.5  # of the root's radius: where the half teeth end
_FAR = 12  # edges of a quarter of the far circle
_SAME = 1e-8  # metres


@dataclass(frozen=True, kw_only=True)
class SlidingQuality:
    """How fine to mesh.

    Attributes
    ----------
    positions : int
        Positions of the wheel within one tooth, a multiple of 4.
    layers : float
        Elements across the gap, as far as their size along the circle says.
    corner : float
        By how much elements at sharp corners are smaller than beside them.
    growth : float
        Of the size, per metre away from wheel and sensor.
    divisions : float
        Elements over the thickness of a bar.
    far : float
        Radius of the far boundary, over that of a circle round wheel and sensor.
    most : int
        Nodes of the circle for one tooth at the most.
    """

    positions: int = 24
    layers: float = 2.0
    corner: float = 2.0
    growth: float = 0.6
    divisions: float = 2.0
    far: float = 3.0
    most: int = 96


SLIDING = {
    "draft": SlidingQuality(positions=12, layers=1.5, corner=2.0, growth=0.8, divisions=1.5),
    "normal": SlidingQuality(),
    "fine": SlidingQuality(layers=5.0, corner=8.0, growth=0.25, divisions=6.0, far=6.0),
}


@dataclass(frozen=True, kw_only=True, eq=False)
class SlidingMesh:
    """Both sheets as one mesh, not yet joined.

    Attributes
    ----------
    mesh : SectionMesh
        Regions: the parts of `build.shape`, then as the names above.
    wheel : bool array (triangles,)
        Which of them turn.
    steps : int
        Edges on the circle for one tooth.
    """

    mesh: SectionMesh
    wheel: npt.NDArray[np.bool_]
    steps: int


@lru_cache(maxsize=16)
def sliding_mesh(build: WheelBuild, quality: SlidingQuality) -> SlidingMesh:
    """Mesh wheel and sensor.

    Raises
    ------
    MissingLibraryError
        When gmsh cannot be loaded.
    """
    s = _steps(build, quality)
    wheel, outside = _wheel(build, quality, s), _sensor(build, quality, s)
    points = np.ascontiguousarray(np.hstack([outside.points, wheel.points]))
    shift = outside.points.shape[1]
    triangles = np.ascontiguousarray(np.hstack([outside.triangles, wheel.triangles + shift]))
    middle, radius = _far(build, quality)
    mesh = SectionMesh(points=points, triangles=triangles, region=np.concatenate([outside.region, wheel.region]),
                       far_edges=outside.far_edges, far_centre=middle, far_radius=radius)
    turns = np.arange(triangles.shape[1]) >= outside.triangles.shape[1]
    return SlidingMesh(mesh=mesh, wheel=turns, steps=s)


def _steps(build: WheelBuild, quality: SlidingQuality) -> int:
    """Edges of the circle for one tooth: a multiple of the positions, fine enough for the gap."""
    along = build.wheel.angle * build.ring
    wanted = min(along * quality.layers / build.gap, quality.most)
    return quality.positions * max(1, math.ceil(wanted / quality.positions - 1e-9))


def _far(build: WheelBuild, quality: SlidingQuality) -> tuple[float, float]:
    """Height of the far circle's centre and its radius, m."""
    top, bottom = build.centre + build.wheel.radius, _bottom(build)
    half = (top - bottom) / 2
    return (top + bottom) / 2, quality.far * half


def _bottom(build: WheelBuild) -> float:
    return min(build.sensor.coil.bottom, *(z for part in build.sensor.bars for _, z in part.outline))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Sheet:
    points: Array
    triangles: Ints
    region: Ints
    far_edges: Ints


def _wheel(build: WheelBuild, quality: SlidingQuality, s: int) -> _Sheet:
    """One half tooth, its mirror image, both n times; and what lies within."""
    w, part = build.wheel, len(build.sensor.bars)
    inner = w.bore if w.bore else _CORE * w.root
    p, t, r = _half_tooth(build, quality, s, inner)
    sheets = []
    for k in range(w.teeth):
        for side in (1, -1):
            sheets.append((_turned(p * np.array([[side], [1.0]]), k * w.angle), t[::side] if side < 0 else t,
                           np.where(r > 0, part, AIR)))
    cp, ct = _core(w.teeth, inner)
    within = AIR if w.bore else part
    for side in (1, -1):
        sheets.append((cp * np.array([[side], [1.0]]), ct[::side] if side < 0 else ct,
                       np.full(ct.shape[1], within)))
    points, triangles, region = _joined(sheets)
    return _Sheet(points=points + np.array([[0.0], [build.centre]]), triangles=triangles, region=region,
                  far_edges=np.zeros((2, 0), dtype=np.int64))


def _half_tooth(build: WheelBuild, quality: SlidingQuality, s: int, inner: float) -> tuple[Array, Ints, Ints]:
    """Points about the wheel's axis with the tooth towards −z, triangles, and 1 where they are steel."""
    w, half = build.wheel, build.wheel.angle / 2
    flank, foot = w.top * half, (1 - w.floor) * half
    near = 2 * half * build.ring / s
    with gmsh_model("tooth") as gmsh:
        occ = gmsh.model.occ
        axis = occ.addPoint(0, 0, 0)

        def at(rho: float, phi: float) -> int:
            return int(occ.addPoint(rho * math.sin(phi), -rho * math.cos(phi), 0))

        c0, c1 = at(inner, 0), at(inner, half)
        t0, t1 = at(w.radius, 0), at(w.radius, flank)
        f0, f1 = at(w.root, foot), at(w.root, half)
        r0, r1 = at(build.ring, 0), at(build.ring, half)
        core, up = occ.addLine(c0, c1), occ.addLine(c1, f1)
        floor, side = occ.addCircleArc(f1, axis, f0), occ.addLine(f0, t1)
        top, middle = occ.addCircleArc(t1, axis, t0), occ.addLine(t0, c0)
        steel = occ.addPlaneSurface([occ.addCurveLoop([core, up, floor, side, top, middle])])
        out0, ring, out1 = occ.addLine(t0, r0), occ.addCircleArc(r0, axis, r1), occ.addLine(r1, f1)
        air = occ.addPlaneSurface([occ.addCurveLoop([out0, ring, out1, floor, side, top])])
        occ.synchronize()
        gmsh.model.mesh.setTransfiniteCurve(ring, s // 2 + 1)
        gmsh.model.mesh.setTransfiniteCurve(core, 2)
        wide = min(w.top, w.floor) * w.pitch / 2
        _sized(gmsh, [(near, quality.growth, [ring, top]), (min(wide, w.height) / quality.divisions, quality.growth,
                                                            [side, floor])],
               [(near / quality.corner, 1.3 * quality.growth, [t1])])
        gmsh.model.mesh.generate(2)
        return _triangles(gmsh, {steel: 1, air: 0})


def _core(teeth: int, inner: float) -> tuple[Array, Ints]:
    """Half of the polygon on which the half teeth end, x ≥ 0."""
    phi = np.arange(teeth + 1) * np.pi / teeth
    corners = np.stack([inner * np.sin(phi), -inner * np.cos(phi)], axis=1)
    corners[[0, -1], 0] = 0.0
    edge = 2 * inner * math.sin(math.pi / teeth / 2)
    with gmsh_model("core") as gmsh:
        surface = polygon(gmsh.model.occ, corners.tolist())
        gmsh.model.occ.synchronize()
        axis = []
        for _, tag in gmsh.model.getEntities(1):
            if abs(gmsh.model.occ.getMass(1, tag) - 2 * inner) < 1e-9:
                axis.append(tag)
            else:
                gmsh.model.mesh.setTransfiniteCurve(tag, 2)
        rim = [tag for _, tag in gmsh.model.getEntities(1) if tag not in axis]
        _sized(gmsh, [(edge, 0.6, rim)], [])
        gmsh.model.mesh.generate(2)
        points, triangles, _ = _triangles(gmsh, {surface: 0})
    return points, triangles


def _sensor(build: WheelBuild, quality: SlidingQuality, s: int) -> _Sheet:
    """Everything outside of the circle: its half x ≥ 0 and the image of that."""
    w, coil, bars = build.wheel, build.sensor.coil, build.sensor.bars
    middle, far = _far(build, quality)
    near = w.angle * build.ring / s
    with gmsh_model("sensor") as gmsh:
        occ = gmsh.model.occ
        axis, out = occ.addPoint(0, build.centre, 0), occ.addPoint(0, middle, 0)
        low, high = (occ.addPoint(0, build.centre + d * build.ring, 0) for d in (-1, 1))
        under, over = (occ.addPoint(0, middle + d * far, 0) for d in (-1, 1))
        beside, side = occ.addPoint(build.ring, build.centre, 0), occ.addPoint(far, middle, 0)
        loop = [occ.addLine(under, low), occ.addCircleArc(low, axis, beside), occ.addCircleArc(beside, axis, high),
                occ.addLine(high, over), occ.addCircleArc(over, out, side), occ.addCircleArc(side, out, under)]
        air = (2, int(occ.addPlaneSurface([occ.addCurveLoop(loop)])))
        halves = [[(max(x, 0.0), z) for x, z in part.outline] for part in bars] + [list(coil.outline(1))]
        parts = [(2, polygon(occ, outline)) for outline in halves]
        _, pieces = occ.fragment([air], parts)
        occ.synchronize()
        owner = {tag: AIR for _, tag in gmsh.model.getEntities(2)}
        for i, piece in enumerate(pieces[1:]):
            owner.update({tag: i if i < len(bars) else RIGHT for _, tag in piece})
        arcs = [tag for _, tag in gmsh.model.getEntities(1) if _on_circle(gmsh, tag, build.centre, build.ring)]
        outer = [tag for _, tag in gmsh.model.getEntities(1) if _on_circle(gmsh, tag, middle, far)]
        for arc in arcs:
            gmsh.model.mesh.setTransfiniteCurve(arc, s * w.teeth // 4 + 1)
        for arc in outer:
            gmsh.model.mesh.setTransfiniteCurve(arc, _FAR + 1)
        lines, corners = [(near, quality.growth, arcs)], []
        for i, part in enumerate(bars):
            own = [tag for tag, i_own in owner.items() if i_own == i]
            edges = sorted({c for tag in own for _, c in gmsh.model.getBoundary([(2, tag)], oriented=False)})
            edges = [c for c in edges if not _on_axis(gmsh, c)]
            h = part.thickness / quality.divisions
            lines.append((h, quality.growth, edges))
            face = [c for c in edges if abs(_middle(gmsh, c)[1]) < _SAME]
            lines += [(min(h, build.gap / quality.layers), quality.growth, face)] if face else []
            ends = sorted({abs(q) for c in edges for _, q in gmsh.model.getBoundary([(1, c)], oriented=False)})
            ends = [q for q in ends if gmsh.model.getValue(0, q, [])[0] > _SAME]
            corners.append((h / quality.corner, 1.3 * quality.growth, ends))
            tips = [q for q in ends if abs(gmsh.model.getValue(0, q, [])[1]) < _SAME]
            if tips:
                corners.append((min(h, build.gap / quality.layers) / quality.corner, 1.3 * quality.growth, tips))
        _sized(gmsh, lines, corners)
        gmsh.model.mesh.generate(2)
        p, t, r = _triangles(gmsh, owner)
    image = np.where(r == RIGHT, LEFT, r)
    points, triangles, region = _joined([(p, t, r), (p * np.array([[-1.0], [1.0]]), t[::-1], image)])
    return _Sheet(points=points, triangles=triangles, region=region,
                  far_edges=_edges_at(points, triangles, middle, far))


def _sized(gmsh: Any, lines: list[_Sizes], corners: list[_Sizes]) -> None:
    """Background field: the least of (size + growth · distance) of curves and of points."""
    field = gmsh.model.mesh.field
    words = []
    for kind, wanted in (("CurvesList", lines), ("PointsList", corners)):
        for h, growth, tags in wanted:
            near = field.add("Distance")
            field.setNumbers(near, kind, tags)
            if kind == "CurvesList":
                longest = max(gmsh.model.occ.getMass(1, c) for c in tags)
                field.setNumber(near, "Sampling", float(np.clip(2 * longest / h, 20, 400)))
            words.append(f"{h:.6e} + {growth}*F{near}")
    use_sizes(gmsh, words)


def _triangles(gmsh: Any, region: dict[int, int]) -> tuple[Array, Ints, Ints]:
    """Points (2, n), anticlockwise triangles (3, m) and their regions."""
    tags, xyz, _ = gmsh.model.mesh.getNodes()
    lookup = np.full(int(tags.max()) + 1, -1)
    lookup[tags.astype(int)] = np.arange(tags.size)
    found, regions = [], []
    for surface, value in region.items():
        corners = lookup[gmsh.model.mesh.getElementsByType(2, surface)[1].astype(int)].reshape(-1, 3).T
        found.append(corners)
        regions.append(np.full(corners.shape[1], value))
    t = np.hstack(found)
    used, inverse = np.unique(t, return_inverse=True)
    points = np.ascontiguousarray(xyz.reshape(-1, 3)[used, :2].T)
    points[0, np.abs(points[0]) < 1e-12] = 0.0
    return points, inverse.reshape(t.shape), np.concatenate(regions)


def _turned(p: Array, angle: float) -> Array:
    """Points about the axis turned from −z towards +x."""
    c, s = math.cos(angle), math.sin(angle)
    return np.stack([c * p[0] - s * p[1], s * p[0] + c * p[1]])


def _joined(sheets: list[tuple[Array, Ints, Ints]]) -> tuple[Array, Ints, Ints]:
    """Sheets with what coincides of their points made one."""
    starts = np.cumsum([0, *(p.shape[1] for p, _, _ in sheets)])
    points = np.hstack([p for p, _, _ in sheets])
    triangles = np.hstack([t + n for (_, t, _), n in zip(sheets, starts, strict=False)])
    pairs = cKDTree(points.T).query_pairs(_SAME, output_type="ndarray")
    n = points.shape[1]
    links = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(n, n))
    _, label = connected_components(links, directed=False)
    _, first, inverse = np.unique(label, return_index=True, return_inverse=True)
    return points[:, first], inverse[triangles], np.concatenate([r for _, _, r in sheets])


def _edges_at(points: Array, triangles: Ints, middle: float, radius: float) -> Ints:
    """Edges of triangles with both ends on the far circle."""
    edges = np.unique(np.sort(np.hstack([triangles[[0, 1]], triangles[[1, 2]], triangles[[2, 0]]]), axis=0), axis=1)
    on = np.abs(np.hypot(points[0], points[1] - middle) / radius - 1) < 1e-6
    return edges[:, on[edges[0]] & on[edges[1]]]


def _on_circle(gmsh: Any, curve: int, centre: float, radius: float) -> bool:
    x, z = _middle(gmsh, curve)
    return bool(abs(np.hypot(x, z - centre) / radius - 1) < 1e-6)


def _on_axis(gmsh: Any, curve: int) -> bool:
    x0, _, _, x1, _, _ = gmsh.model.getBoundingBox(1, curve)
    return bool(max(abs(x0), abs(x1)) < 1e-6)


def _middle(gmsh: Any, curve: int) -> tuple[float, float]:
    low, high = gmsh.model.getParametrizationBounds(1, curve)
    x, z, _ = gmsh.model.getValue(1, curve, [(low[0] + high[0]) / 2])
    return float(x), float(z)
