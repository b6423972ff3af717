"""How large the elements of a build are: gmsh's background field."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from ..shapes.bodies import Box, Cover, Revolved, SolidBody
from ..shapes.pieces import Shaped
from .solid_quality import SolidQuality
from .string_rod import StringRod

_RIM_GROWTH = 0.5  # of tips and rims
_ASIDE = 6e-3  # m across from the strings that are meshed: bodies farther away need not be as fine
_COARSER = 1.5
_SHARP = 0.35  # rad
_ARC = {1: 0.35, 2: 0.5}  # of its radius: elements along an arc, and on a round face, of what is made of pieces
_NEAR = 8e-3  # m: bodies whose tops are nearer to a string than this need short layers of it over them
_APART = 3e-3  # m along the strings: of such places
_ALONG = 1e-6  # how closely sizes are summed up along a curve: 1e-9, gmsh's own, took a third of a mesh's time
_UPPER = 6e-3  # m: faces not lower than this under the highest look at the strings


def body_size(body: SolidBody, quality: SolidQuality) -> float:
    """Size of elements in and on a body, m: twice as large for its thickness in a bar or a plate, whose field
    hardly changes across it, as in a pole, which is as thin both ways. Through thin sheets there goes one element,
    `least` long and wide."""
    if isinstance(body.form, Box | Cover) or (isinstance(body.form, Shaped) and body.form.bar):
        return min(max(2.0 * body.form.thickness / quality.divisions, quality.least), quality.largest)
    return min(body.form.thickness / quality.divisions, quality.largest)


def places_under(bodies: Sequence[SolidBody], y: float, height: float) -> tuple[float, ...]:
    """Places along a string over bodies that come near to it: their middles, or both edges of wide ones; m."""
    found: list[float] = []
    for low, high in (b.form.bounds for b in bodies):
        aside = max(low[1] - y, y - high[1], 0.0)
        if np.hypot(aside, height - high[2]) < _NEAR:
            found += [(low[0] + high[0]) / 2] if high[0] - low[0] < 2 * _APART else [low[0], high[0]]
    kept: list[float] = []
    for x in sorted(found):
        if not kept or x - kept[-1] > _APART:
            kept.append(round(x, 9))
    return tuple(kept) or (0.0,)


def set_sizes(gmsh: Any, bodies: Sequence[SolidBody], strings: Sequence[StringRod], owner: dict[int, int],
              quality: SolidQuality) -> None:
    """Set the field for the fragments, whose owners are given by tag."""
    field = gmsh.model.mesh.field
    terms: list[str] = []
    groups: dict[float, set[int]] = {}
    rims: dict[float, set[int]] = {}
    tips: dict[float, set[int]] = {}
    arcs: dict[float, set[int]] = {}
    highest = max(b.form.bounds[1][2] for b in bodies)
    for tag, i in owner.items():
        if i >= len(bodies):
            continue
        aside = bool(strings) and all(_across(bodies[i], rod) > _ASIDE for rod in strings)
        h = round(body_size(bodies[i], quality) * (_COARSER if aside else 1.0), 9)
        faces = {s for _, s in gmsh.model.getBoundary([(3, tag)], oriented=False)}
        groups.setdefault(h, set()).update(faces)
        top = bodies[i].form.bounds[1][2]
        for face in faces:
            low = gmsh.model.getBoundingBox(2, face)[2]
            shaped = isinstance(bodies[i].form, Shaped)
            if shaped and gmsh.model.getType(2, face) != "Plane":
                groups.setdefault(round(_on_arc(gmsh, 2, face, h, quality), 9), set()).add(face)
            if highest - top < _UPPER and low > top - 0.1 * bodies[i].form.thickness:
                tips.setdefault(round(min(quality.tip, h), 9), set()).add(face)
            for _, curve in gmsh.model.getBoundary([(2, face)], oriented=False):
                low, high = (gmsh.model.getBoundingBox(1, curve)[k] for k in (2, 5))
                if high - low < 1e-6 + 0.1 * bodies[i].form.thickness and _is_sharp(bodies[i], low, top):
                    rims.setdefault(round(quality.edge * h, 9), set()).add(curve)
                elif shaped and gmsh.model.getType(1, curve) == "Circle":
                    arcs.setdefault(round(_on_arc(gmsh, 1, curve, h, quality), 9), set()).add(curve)
    for sizes, growth in ((groups, quality.growth), (tips, _RIM_GROWTH)):
        for h, faces in sorted(sizes.items()):
            near = field.add("Distance")
            field.setNumbers(near, "SurfacesList", sorted(faces))
            field.setNumber(near, "Sampling", 24)
            terms.append(f"{h:.6e} + {growth}*F{near}")
    for h, curves in [*sorted(rims.items()), *sorted(arcs.items())]:
        near = field.add("Distance")
        field.setNumbers(near, "CurvesList", sorted(curves))
        field.setNumber(near, "Sampling", 60)
        terms.append(f"{h:.6e} + {_RIM_GROWTH}*F{near}")
    for rod in strings:
        along = f"max(abs(x) - {rod.half_length:.9e}, 0)"
        axis = f"(z - ({rod.z:.9e}) - ({rod.slope:.9e})*x)"
        away = f"max(0, sqrt((y-({rod.y:.9e}))^2 + {axis}^2 + {along}^2) - {rod.radius:.9e})"
        beside = _smallest([f"abs(x - ({place:.9e}))" for place in rod.fine])
        grown = f"({quality.rod.first:.6e} + {quality.rod.ratio - 1:.6e}*{beside})"  # as its layers
        terms.append(f"{grown} + {quality.growth}*{away}")
    size = field.add("MathEval")
    field.setString(size, "F", _smallest(terms))
    field.setAsBackgroundMesh(size)
    for option in ("MeshSizeFromPoints", "MeshSizeFromCurvature", "MeshSizeExtendFromBoundary"):
        gmsh.option.setNumber(f"Mesh.{option}", 0)
    gmsh.option.setNumber("Mesh.Algorithm3D", 1)
    gmsh.option.setNumber("Mesh.LcIntegrationPrecision", _ALONG)


def _on_arc(gmsh: Any, dim: int, tag: int, h: float, quality: SolidQuality) -> float:
    """Size along an arc or on a round face, m, by its radius half way; at most h."""
    low, high = gmsh.model.getParametrizationBounds(dim, tag)
    curvature = float(gmsh.model.getCurvature(dim, tag, [(a + b) / 2 for a, b in zip(low, high, strict=True)])[0])
    return h if curvature <= 0.0 else min(max(_ARC[dim] / curvature, 0.3 * quality.tip), h)


def _is_sharp(body: SolidBody, z: float, top: float) -> bool:
    """Whether an edge at height z is a rim of the body that looks at the strings."""
    form = body.form
    if not isinstance(form, Revolved):
        return z > top - 0.1 * form.thickness
    outline = np.array(form.outline)
    before, after = outline - np.roll(outline, 1, axis=0), np.roll(outline, -1, axis=0) - outline
    turn = np.abs(np.angle((after[:, 0] + 1j * after[:, 1]) / (before[:, 0] + 1j * before[:, 1])))
    sharp = outline[(turn > _SHARP) & (outline[:, 0] > 1e-9) & (outline[:, 1] > top - 0.35 * form.thickness)]
    return bool(np.any(np.abs(sharp[:, 1] - z) < 20e-6))


def _across(body: SolidBody, rod: StringRod) -> float:
    low, high = body.form.bounds
    return max(low[1] - rod.y, rod.y - high[1])


def _smallest(terms: Sequence[str]) -> str:
    out = terms[0]
    for term in terms[1:]:
        out = f"min({out}, {term})"
    return out
