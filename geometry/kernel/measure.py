"""What the OCC kernel says of forms: their measures, whether they share volume, and how they look.

Everything is made in millimetres here, in which the kernel's own tolerance is 0.1 nm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from ..arrays import Array
from ..errors import CaseError
from ..shapes.bodies import Cover, Cylinder, Form, Plain, Revolved
from ..shapes.pieces import FormPiece, Shaped
from .pieces import add_shaped
from .rings import Ints
from .session import gmsh_model
from .solids import Solids, add_form

_MM = 1e3
_TOLERANCE = 1e-7  # mm: by so much boxes of the kernel are larger than what they hold
_LEAST = 1e-6  # mm: thinner than this what two bodies share is rounding
_ROUND, _FLAT = 32, 0.02  # sides of a drawn circle; how far they may lie off it, mm


@dataclass(frozen=True, kw_only=True)
class Measures:
    """Of what is made of pieces.

    Attributes
    ----------
    low, high : (float, float, float)
        Least and greatest x, y, z, m.
    volume : float
        m³.
    surface : float
        m².
    """

    low: tuple[float, float, float]
    high: tuple[float, float, float]
    volume: float
    surface: float


@lru_cache(maxsize=256)
def measured(joined: tuple[FormPiece, ...], cut: tuple[FormPiece, ...] = (), own: int = 0) -> Measures:
    """Size of what is made of pieces; the first `own` of the cuts belong to the form itself.

    Raises
    ------
    CaseError
        If nothing is left of it, it falls apart, or a piece does nothing; the sentence begins with the key.
    MissingLibraryError
        When gmsh cannot be loaded.
    """
    with gmsh_model("measured") as gmsh:
        occ = gmsh.model.occ
        solids = add_shaped(occ, joined, (), _MM)
        if len(solids) != 1:
            raise CaseError(f"join: its pieces make {len(solids)} bodies, as they do not touch; move them together, "
                            "or write a [[body]] for each")
        whole = float(occ.getMass(*solids[0]))
        for number, piece in enumerate(cut, start=1):
            before = sum(float(occ.getMass(*s)) for s in solids)
            solids = list(occ.cut(solids, add_shaped(occ, (piece,), (), _MM))[0])
            left = sum(float(occ.getMass(*s)) for s in solids)
            if not solids or left < 1e-9 * whole:
                raise CaseError(f"cut {number - own}: it leaves nothing of the body; make it smaller, or move it")
            if left > before * (1 - 1e-9):
                raise CaseError(f"cut {number - own}: it takes nothing away; move it into the body "
                                "(x and y count from the body's middle, heights from its upper side)")
        if len(solids) != 1:
            raise CaseError(f"cut: the body falls into {len(solids)} pieces; make the cuts smaller, or write a "
                            "[[body]] for each piece")
        low, high = _bounds(occ, solids)
        occ.synchronize()
        faces = gmsh.model.getBoundary(solids, oriented=False)
        surface = sum(float(occ.getMass(*f)) for f in faces)
        volume = float(occ.getMass(*solids[0]))
    return Measures(low=_point(low / _MM), high=_point(high / _MM), volume=volume / _MM**3, surface=surface / _MM**2)


def _bounds(occ: Any, solids: Solids) -> tuple[Array, Array]:
    """Corners of the box about solids, mm."""
    boxes = np.array([occ.getBoundingBox(*s) for s in solids])
    return boxes[:, :3].min(axis=0) + _TOLERANCE, boxes[:, 3:].max(axis=0) - _TOLERANCE


def _point(p: Array) -> tuple[float, float, float]:
    x, y, z = (round(float(c), 12) + 0.0 for c in p)
    return x, y, z


@lru_cache(maxsize=1024)
def shared_volume(first: Form, second: Form) -> float:
    """What two forms have in common, m³; 0 where they only touch.

    Of two round faces of one radius the kernel takes those for one that lie less than 2 µm apart.
    """
    with gmsh_model("shared") as gmsh:
        occ = gmsh.model.occ
        one, other = (_add_large(occ, form) for form in (first, second))
        common = occ.intersect(one, other)[0]
        total = 0.0
        for dim, tag in common:
            if dim != 3:
                continue
            volume = float(occ.getMass(dim, tag))
            box = occ.getBoundingBox(dim, tag)
            thin = min(b - a for a, b in zip(box[:3], box[3:], strict=True)) - 2 * _TOLERANCE
            total += volume if thin > _LEAST else 0.0
        return total / _MM**3


def _add_large(occ: Any, form: Form) -> Solids:
    """A form in millimetres."""
    if isinstance(form, Shaped):
        return add_shaped(occ, form.joined, form.cut, _MM)
    return add_form(occ, _large(form))


def _large(form: Plain) -> Plain:
    def by(p: Sequence[float]) -> tuple[float, float, float]:
        return _MM * p[0], _MM * p[1], _MM * p[2]

    if isinstance(form, Cylinder):
        return replace(form, base=by(form.base), length=_MM * form.length, radius=_MM * form.radius)
    if isinstance(form, Revolved):
        return Revolved(outline=tuple((_MM * r, _MM * z) for r, z in form.outline), x=_MM * form.x, y=_MM * form.y)
    large = replace(form, low=by(form.low), high=by(form.high))
    return replace(large, wall=_MM * large.wall) if isinstance(large, Cover) else large


@dataclass(frozen=True, kw_only=True, eq=False)
class Facets:
    """The surface of a form as triangles.

    Attributes
    ----------
    points : array (n, 3)
        m.
    triangles : int array (m, 3)
        Corners, counter-clockwise seen from outside.
    """

    points: Array
    triangles: Ints


@lru_cache(maxsize=256)
def facets(form: Shaped) -> Facets:
    """The surface as flat triangles, few on flat faces, 32 to a circle."""
    with gmsh_model("facets") as gmsh:
        occ = gmsh.model.occ
        solids = _add_large(occ, form)
        occ.synchronize()
        gmsh.option.setNumber("Mesh.StlAngularDeflection", 2 * np.pi / _ROUND)
        gmsh.option.setNumber("Mesh.StlLinearDeflection", _FLAT)
        gmsh.model.mesh.importStl()
        tags, xyz, _ = gmsh.model.mesh.getNodes()
        order = np.full(int(tags.max()) + 1, -1)
        order[tags.astype(int)] = np.arange(tags.size)
        found = []
        for _, tag in gmsh.model.getBoundary(solids, oriented=False):
            found.append(order[gmsh.model.mesh.getElementsByType(2, tag)[1].astype(int)].reshape(-1, 3))
    # neighbouring faces have nodes of their own along their edge
    points, number = np.unique(np.round(xyz.reshape(-1, 3), 6), axis=0, return_inverse=True)
    triangles = number.reshape(-1)[np.concatenate(found)]
    owner = np.repeat(np.arange(len(found)), [len(f) for f in found])
    whole = np.array([len(set(t)) == 3 for t in triangles.tolist()])
    triangles = _turned_alike(triangles[whole], owner[whole])
    a, b, c = (points[triangles[:, k]] for k in range(3))
    if np.einsum("ij,ij->", a, np.cross(b, c)) < 0:
        triangles = triangles[:, ::-1]  # all of them seen from inside
    return Facets(points=points / _MM + 0.0, triangles=np.ascontiguousarray(triangles))


def _turned_alike(triangles: Ints, owner: Ints) -> Ints:
    """Triangles whose faces, each turned one way by itself, are turned so that neighbours agree: they run along the
    edge that they share in opposite directions."""
    beside: dict[tuple[int, int], tuple[int, bool]] = {}
    links: dict[int, list[tuple[int, bool]]] = {}
    for (a, b, c), face in zip(triangles.tolist(), owner.tolist(), strict=True):
        for start, end in ((a, b), (b, c), (c, a)):
            key, up = (min(start, end), max(start, end)), start < end
            if key not in beside:
                beside[key] = (face, up)
                continue
            other, way = beside[key]
            if other != face:
                links.setdefault(face, []).append((other, way == up))
                links.setdefault(other, []).append((face, way == up))
    flipped = {int(owner[0]): False}
    todo = list(flipped)
    while todo:
        face = todo.pop()
        for other, against in links.get(face, ()):
            if other not in flipped:
                flipped[other] = flipped[face] != against
                todo.append(other)
    turn = np.array([flipped.get(face, False) for face in owner.tolist()])
    return np.where(turn[:, None], triangles[:, ::-1], triangles)
