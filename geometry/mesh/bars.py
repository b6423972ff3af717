"""The mesh of a section of bars: the parts in a disc of air, in (x, z); or half a disc, x ≥ 0.

The far boundary is a circle round the middle of the parts, closed by the decay of a line dipole. Sizes: a part's
thickness over `divisions` at its surface, an eighth of that at its sharp corners, where B is singular, growing
linearly away from both. Corners of a few degrees, as a polygon in place of a circle has them, are not sharp.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Any

import numpy as np

from ..errors import CaseError
from ..kernel.session import gmsh_model
from ..shapes.section import PlaneShape
from .pole import QUALITIES, Quality, SectionMesh, collect, polygon
from .sizes import use_sizes

PLANE_QUALITIES = {**QUALITIES, "draft": Quality(divisions=3.0, growth=0.3, far=6.0)}
"""A pole's, but for its draft: a section of bars is a first look already."""
_CORNER = 8.0  # elements at sharp corners are this much smaller
_CORNER_GROWTH = 1.3  # of `growth`, away from a corner
_ALONG = 1e-7  # of a curve's length in elements; gmsh's own, 1e-9, takes twice as long, and λ moves by some 1e-5
_SHARP = np.cos(np.radians(30.0))  # a corner turns by more than this
_SAME = 1e-9  # metres


@lru_cache(maxsize=64)
def plane_mesh(shape: PlaneShape, quality: Quality, half: bool) -> SectionMesh:
    """Mesh a section.

    Parameters
    ----------
    shape : PlaneShape
    quality : Quality
    half : bool
        Only x ≥ 0 of it; every part must reach there (`PlaneShape.right_side`).

    Raises
    ------
    CaseError
        When two parts cut each other.
    MissingLibraryError
        When gmsh cannot be loaded.
    """
    x, z = 0.0 if half else (shape.left + shape.right) / 2, (shape.top + shape.bottom) / 2
    far = quality.far * float(np.hypot(shape.radius if half else (shape.right - shape.left) / 2,
                                       (shape.top - shape.bottom) / 2))
    with gmsh_model("section") as gmsh:
        occ = gmsh.model.occ
        parts = [(2, polygon(occ, part.outline)) for part in shape.parts]
        disc = (2, _disc(occ, x, z, far, half))
        _, pieces = occ.fragment([disc], parts)
        occ.synchronize()
        inside = {tag for _, tag in pieces[0]}
        _drop(occ, [tag for piece in pieces[1:] for _, tag in piece if tag not in inside])
        gmsh.model.occ.synchronize()
        owner: dict[int, int] = {}
        for i, piece in enumerate(pieces[1:]):
            for tag in {tag for _, tag in piece} & inside:
                if tag in owner:
                    raise CaseError(f"section: the bar of {shape.parts[owner[tag]].material!r} and that of "
                                    f"{shape.parts[i].material!r} cut each other; move them apart or trim one")
                owner[tag] = i
        surfaces = [tag for _, tag in gmsh.model.getEntities(2)]
        _sizes(gmsh, shape, quality, owner, half)
        outer = _curves_on_circle(gmsh, x, z, far)
        gmsh.model.mesh.generate(2)
        return collect(gmsh, surfaces, owner, outer, z, far)


def _disc(occ: Any, x: float, z: float, radius: float, half: bool) -> int:
    middle, low, out, high = (occ.addPoint(*p, 0) for p in
                              ((x, z), (x, z - radius), (x + radius, z), (x, z + radius)))
    curves = [occ.addCircleArc(low, middle, out), occ.addCircleArc(out, middle, high)]
    if half:
        curves.append(occ.addLine(high, low))
    else:
        back = occ.addPoint(x - radius, z, 0)
        curves += [occ.addCircleArc(high, middle, back), occ.addCircleArc(back, middle, low)]
    return int(occ.addPlaneSurface([occ.addCurveLoop(curves)]))


def _drop(occ: Any, tags: Iterable[int]) -> None:
    """What lies at x < 0 beside a half disc."""
    gone = sorted(set(tags))
    if gone:
        occ.remove([(2, tag) for tag in gone], recursive=True)


def _curves_on_circle(gmsh: Any, x: float, z: float, radius: float) -> list[int]:
    found = []
    for _, tag in gmsh.model.getEntities(1):
        low, high = gmsh.model.getParametrizationBounds(1, tag)
        px, pz, _ = gmsh.model.getValue(1, tag, [(low[0] + high[0]) / 2])
        if abs(np.hypot(px - x, pz - z) / radius - 1) < 1e-6:
            found.append(tag)
    return found


def _sizes(gmsh: Any, shape: PlaneShape, quality: Quality, owner: dict[int, int], half: bool) -> None:
    """Background field: the least of what each part's surface and corners ask for."""
    field = gmsh.model.mesh.field
    smooth = _smooth_vertices(shape)
    wanted = []
    for i, part in enumerate(shape.parts):
        h = part.thickness / quality.divisions
        curves = sorted({c for tag, own in owner.items() if own == i
                         for _, c in gmsh.model.getBoundary([(2, tag)], oriented=False)})
        curves = [c for c in curves if not (half and _on_axis(gmsh, c))]
        longest = max(gmsh.model.occ.getMass(1, c) for c in curves)
        near = field.add("Distance")
        field.setNumbers(near, "CurvesList", curves)
        field.setNumber(near, "Sampling", float(np.clip(2 * longest / h, 20, 400)))
        wanted.append(f"{h:.6e} + {quality.growth}*F{near}")
        corners = sorted({abs(p) for c in curves for _, p in gmsh.model.getBoundary([(1, c)], oriented=False)})
        sharp = [c for c in corners if not _among(gmsh.model.getValue(0, c, [])[:2], smooth)
                 and not (half and abs(gmsh.model.getValue(0, c, [])[0]) < _SAME)]
        if sharp:
            edge = field.add("Distance")
            field.setNumbers(edge, "PointsList", sharp)
            wanted.append(f"{h / _CORNER:.6e} + {_CORNER_GROWTH * quality.growth}*F{edge}")
    use_sizes(gmsh, wanted)
    gmsh.option.setNumber("Mesh.LcIntegrationPrecision", _ALONG)


def _smooth_vertices(shape: PlaneShape) -> np.ndarray[Any, Any]:
    """(n, 2): vertices at which an outline turns so little that no field is singular there."""
    found = []
    for part in shape.parts:
        p = np.array(part.outline)
        before, after = p - np.roll(p, 1, axis=0), np.roll(p, -1, axis=0) - p
        turn = np.sum(before * after, axis=1) / np.linalg.norm(before, axis=1) / np.linalg.norm(after, axis=1)
        found.append(p[turn > _SHARP])
    return np.concatenate(found)


def _among(point: Any, table: np.ndarray[Any, Any]) -> bool:
    return bool(np.any(np.hypot(*(table - np.asarray(point)).T) < _SAME))


def _on_axis(gmsh: Any, curve: int) -> bool:
    x0, _, _, x1, _, _ = gmsh.model.getBoundingBox(1, curve)
    return bool(max(abs(x0), abs(x1)) < 1e-6)  # gmsh's boxes have a rim of 1e-7
