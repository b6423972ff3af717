"""The mesh of one pole's section: the parts of the stack in a half disc of air, in (r, z).

The far boundary is a half circle centred on the middle of the pole; the solver closes it with the
decay of a dipole, so a few pole lengths are enough (measured in tests/solver/section/test_bias.py).
Sizes: `h` in the parts, an eighth of it at their corners, where B is singular, growing linearly outside.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from ..arrays import Array
from ..kernel.session import gmsh_model
from ..shapes.row import PoleShape


@dataclass(frozen=True, kw_only=True)
class Quality:
    """How fine to mesh.

    Attributes
    ----------
    divisions : float
        Elements over the smaller of a part's radius and length.
    growth : float
        By how much the element size grows per metre of distance from the parts. The air beside the pole
        carries the return flux: this matters more than `divisions` (table in docs/measured.md).
    far : float
        Radius of the far boundary in half diagonals of the pole.
    beyond : float, optional
        The same growth from half a diagonal on, where little of the flux returns; as `growth` if left out.
    corner : float, optional
        The same at the parts' corners, which are meshed much finer. Left out it is 1.3 times `growth`, and every
        point of a tip's curve counts as a corner.
    face : float
        Element size at the face under the strings, m.
    surface : tuple of float
        Element size on the surface of each part, m, where a skin has to be resolved; 0 for none there.
    """

    divisions: float
    growth: float
    far: float
    face: float = 0.25e-3
    surface: tuple[float, ...] = ()
    beyond: float | None = None
    corner: float | None = None


QUALITIES = {
    "draft": Quality(divisions=4.5, growth=0.2, far=6.0, beyond=0.8, corner=0.8),
    "normal": Quality(divisions=5.0, growth=0.2, far=6.0),
    "fine": Quality(divisions=9.0, growth=0.1, far=10.0),
}
_SKIN_GROWTH = 0.6  # per metre of depth under a surface with a skin
_FACE_GROWTH = 0.5  # of the size at the face under the strings, per metre from there
_CORNER = 8.0  # elements at corners are this much smaller
_SHARP = np.radians(25.0)  # less than that is a chord of a curve and no corner


@dataclass(frozen=True, kw_only=True, eq=False)
class SectionMesh:
    """Straight triangles in the (r, z) half plane.

    Attributes
    ----------
    points : array (2, n)
        r, z in metres.
    triangles : int array (3, m)
    region : int array (m,)
        Index of the part, −1 in air.
    far_edges : int array (2, k)
        Edges on the far boundary.
    far_centre, far_radius : float
        Its centre's height and radius.
    """

    points: Array
    triangles: npt.NDArray[np.int64]
    region: npt.NDArray[np.int64]
    far_edges: npt.NDArray[np.int64]
    far_centre: float
    far_radius: float


@lru_cache(maxsize=64)
def section_mesh(shape: PoleShape, quality: Quality) -> SectionMesh:
    """Mesh the section of a pole.

    Raises
    ------
    MissingLibraryError
        When gmsh cannot be loaded.
    """
    centre = (shape.top + shape.bottom) / 2
    far = quality.far * float(np.hypot(shape.radius, (shape.top - shape.bottom) / 2))
    with gmsh_model("pole") as gmsh:
        occ = gmsh.model.occ
        parts = [(2, polygon(occ, part.outline)) for part in shape.parts]
        air = (2, _half_disc(occ, centre, far))
        _, pieces = occ.fragment([air], parts)
        occ.synchronize()
        owner = {}
        for i, piece in enumerate(pieces[1:]):
            owner.update({tag: i for _, tag in piece})
        surfaces = [tag for _, tag in gmsh.model.getEntities(2)]
        _sizes(gmsh, shape, quality, {t: i for t, i in owner.items()})
        for index in range(-1, len(parts)):
            tags = [t for t in surfaces if owner.get(t, -1) == index]
            gmsh.model.addPhysicalGroup(2, tags, index + 2, name="air" if index < 0 else f"part {index + 1}")
        outer = _curves_on_circle(gmsh, centre, far)
        gmsh.model.addPhysicalGroup(1, outer, 1, name="far")
        gmsh.model.mesh.generate(2)
        return collect(gmsh, surfaces, owner, outer, centre, far)


def polygon(occ, outline) -> int:  # type: ignore[no-untyped-def]
    """A plane surface in gmsh."""
    tags = [occ.addPoint(r, z, 0) for r, z in outline]
    lines = [occ.addLine(a, b) for a, b in zip(tags, [*tags[1:], tags[0]], strict=True)]
    return int(occ.addPlaneSurface([occ.addCurveLoop(lines)]))


def _half_disc(occ, centre: float, radius: float) -> int:  # type: ignore[no-untyped-def]
    middle = occ.addPoint(0, centre, 0)
    low, out, high = (occ.addPoint(0, centre - radius, 0), occ.addPoint(radius, centre, 0),
                      occ.addPoint(0, centre + radius, 0))
    loop = occ.addCurveLoop([occ.addCircleArc(low, middle, out), occ.addCircleArc(out, middle, high),
                             occ.addLine(high, low)])
    return int(occ.addPlaneSurface([loop]))


def _curves_on_circle(gmsh, centre: float, radius: float) -> list[int]:  # type: ignore[no-untyped-def]
    found = []
    for _, tag in gmsh.model.getEntities(1):
        low, high = gmsh.model.getParametrizationBounds(1, tag)
        r, z, _ = gmsh.model.getValue(1, tag, [(low[0] + high[0]) / 2])
        if abs(np.hypot(r, z - centre) / radius - 1) < 1e-6:
            found.append(tag)
    return found


def _sizes(gmsh, shape: PoleShape, quality: Quality, owner: dict[int, int]) -> None:  # type: ignore[no-untyped-def]
    """Background field: h in the parts, finer at their corners, growing with the distance."""
    h = min(min(p.radius, p.top - p.bottom) for p in shape.parts) / quality.divisions
    g = quality.growth
    beyond = g if quality.beyond is None else quality.beyond
    corner = 1.3 * g if quality.corner is None else quality.corner
    diagonal = float(np.hypot(shape.radius, (shape.top - shape.bottom) / 2))
    field = gmsh.model.mesh.field
    curves = sorted({c for tag in owner for _, c in gmsh.model.getBoundary([(2, tag)], oriented=False)})
    corners = sorted({abs(p) for c in curves for _, p in gmsh.model.getBoundary([(1, c)], oriented=False)})
    near = field.add("Distance")
    field.setNumbers(near, "CurvesList", curves)
    field.setNumber(near, "Sampling", 60)
    edge = field.add("Distance")
    smooth = [] if quality.corner is None else _smooth(shape)
    field.setNumbers(edge, "PointsList", [c for c in corners if _radius_of(gmsh, c) > 1e-9
                                          and not any(_at(gmsh, c, point) for point in smooth)])
    size = field.add("MathEval")
    away = f"{h:.6e} + {g}*F{near}"
    if beyond != g:
        away = f"max({away}, {h - (beyond - g) * diagonal:.6e} + {beyond}*F{near})"
    smallest = f"min({away}, {h / _CORNER:.6e} + {corner}*F{edge})"
    if not quality.surface:  # a mesh for the skin is no place to look at strings from
        face = field.add("Distance")
        field.setNumbers(face, "CurvesList", [c for c in curves if _bears_strings(gmsh, c, shape)])
        field.setNumber(face, "Sampling", 200)
        smallest = f"min({smallest}, {quality.face:.6e} + {_FACE_GROWTH}*F{face})"
    for part, skin in enumerate(quality.surface):
        if skin > 0:
            own = [tag for tag, i in owner.items() if i == part]
            skins = field.add("Distance")
            field.setNumbers(skins, "CurvesList", sorted({
                c for tag in own for _, c in gmsh.model.getBoundary([(2, tag)], oriented=False)}))
            field.setNumber(skins, "Sampling", 200)
            smallest = f"min({smallest}, {skin:.6e} + {_SKIN_GROWTH}*F{skins})"
    field.setString(size, "F", smallest)
    field.setAsBackgroundMesh(size)
    for option in ("MeshSizeFromPoints", "MeshSizeFromCurvature", "MeshSizeExtendFromBoundary"):
        gmsh.option.setNumber(f"Mesh.{option}", 0)
    gmsh.option.setNumber("Mesh.Algorithm", 6)


def _bears_strings(gmsh, curve: int, shape: PoleShape) -> bool:  # type: ignore[no-untyped-def]
    """Whether a curve belongs to the upper surface of the uppermost part."""
    part = shape.parts[0]
    r, z = np.array([gmsh.model.getValue(0, p, [])[:2] for _, p in gmsh.model.getBoundary([(1, curve)],
                                                                                       oriented=False)]).T
    return bool(np.all(z > part.bottom + 1e-9) and np.any(r > 1e-9) and np.any(r < part.radius - 1e-9))


def _smooth(shape: PoleShape) -> list[Array]:
    """Points of the outlines where these hardly turn: chords of a tip's curve."""
    found: list[Array] = []
    for part in shape.parts:
        outline = np.asarray(part.outline)
        ways = np.roll(outline, -1, axis=0) - outline
        ways = ways / np.linalg.norm(ways, axis=1, keepdims=True)
        turns = np.arccos(np.clip(np.sum(ways * np.roll(ways, 1, axis=0), axis=1), -1, 1))
        found += list(outline[turns < _SHARP])
    return found


def _at(gmsh, tag: int, point: Array) -> bool:  # type: ignore[no-untyped-def]
    return bool(np.allclose(gmsh.model.getValue(0, tag, [])[:2], point, rtol=0, atol=1e-9))


def _radius_of(gmsh, tag: int) -> float:  # type: ignore[no-untyped-def]
    return float(gmsh.model.getValue(0, tag, [])[0])


def collect(gmsh, surfaces, owner, outer, centre: float, far: float) -> SectionMesh:  # type: ignore[no-untyped-def]
    """gmsh's triangles of the surfaces and edges of the outer curves; `owner` has the part of each surface."""
    tags, xyz, _ = gmsh.model.mesh.getNodes()
    lookup = np.full(int(tags.max()) + 1, -1)
    lookup[tags.astype(int)] = np.arange(tags.size)
    triangles, region = [], []
    for tag in surfaces:
        nodes = gmsh.model.mesh.getElementsByType(2, tag)[1]
        corners = lookup[nodes.astype(int)].reshape(-1, 3).T
        triangles.append(corners)
        region.append(np.full(corners.shape[1], owner.get(tag, -1)))
    edges = np.hstack([lookup[gmsh.model.mesh.getElementsByType(1, tag)[1].astype(int)].reshape(-1, 2).T
                       for tag in outer])
    t = np.hstack(triangles)
    used, inverse = np.unique(t, return_inverse=True)  # drop the arc's centre point
    back = np.full(tags.size, -1)
    back[used] = np.arange(used.size)
    points = np.ascontiguousarray(xyz.reshape(-1, 3)[used, :2].T)
    points[0, np.abs(points[0]) < 1e-12] = 0.0
    return SectionMesh(points=points, triangles=inverse.reshape(t.shape), region=np.concatenate(region),
                       far_edges=back[edges], far_centre=centre, far_radius=far)
