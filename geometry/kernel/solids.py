"""The forms of bodies as solids of gmsh's OCC kernel, and their exact volumes.

Cylinder πr²l; body of revolution, with straight edges from (r₀, z₀) to (r₁, z₁) taken counter-clockwise,
V = Σ π/3 (r₀² + r₀r₁ + r₁²)(z₁ − z₀) (cones); cover: outer box less its hollow; what is made of pieces has been
measured. Lengths in m, volumes in m³.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from ..shapes.bodies import Cover, Cylinder, Form, Revolved
from ..shapes.pieces import Shaped
from .pieces import add_shaped

Solids = list[tuple[int, int]]
_FLAT = 15e-6  # m


def add_form(occ: Any, form: Form) -> Solids:
    """The solids of a form."""
    if isinstance(form, Shaped):
        return add_shaped(occ, form.joined, form.cut)
    if isinstance(form, Cylinder):
        way = [form.length if i == form.along else 0.0 for i in range(3)]
        return [(3, occ.addCylinder(*form.base, *way, form.radius))]
    if isinstance(form, Revolved):
        points = [occ.addPoint(form.x + r, form.y, z) for r, z in simplified(form.outline)]
        lines = [occ.addLine(a, b) for a, b in zip(points, [*points[1:], points[0]], strict=True)]
        face = occ.addPlaneSurface([occ.addCurveLoop(lines)])
        turned = occ.revolve([(2, face)], form.x, form.y, 0, 0, 0, 1, 2 * np.pi)
        return [p for p in turned if p[0] == 3]
    sizes = [h - l for l, h in zip(form.low, form.high, strict=True)]
    box = (3, occ.addBox(*form.low, *sizes))
    if isinstance(form, Cover):
        w = form.wall
        inner = (3, occ.addBox(form.low[0] + w, form.low[1] + w, form.low[2], sizes[0] - 2 * w, sizes[1] - 2 * w,
                               sizes[2] - w))
        return list(occ.cut([box], [inner])[0])
    return [box]


def simplified(outline: Sequence[tuple[float, float]], most: float = _FLAT) -> list[tuple[float, float]]:
    """A closed outline without the points that lie within `most` m of what is left (Douglas & Peucker 1973).

    The many short pieces of a dome would make as many rings of tiny elements.
    """
    points = np.array([*outline, outline[0]])
    middle = int(np.argmax(np.linalg.norm(points - points[0], axis=1)))
    kept_points = {0, middle}
    todo = [(0, middle), (middle, len(points) - 1)]
    while todo:
        a, b = todo.pop()
        if b - a < 2:
            continue
        way = (points[b] - points[a]) / np.linalg.norm(points[b] - points[a])
        off = np.abs(way[0] * (points[a + 1:b, 1] - points[a, 1]) - way[1] * (points[a + 1:b, 0] - points[a, 0]))
        far = a + 1 + int(np.argmax(off))
        if off[far - a - 1] > most:
            kept_points.add(far)
            todo += [(a, far), (far, b)]
    return [outline[i] for i in sorted(kept_points)]


def half_space(occ: Any, axis: int, size: float) -> tuple[int, int]:
    """A box of 2·`size` that ends at x = 0 (axis 0) or y = 0 (1), on the upper side."""
    low = [0.0 if i == axis else -size for i in range(3)]
    return 3, occ.addBox(*low, *(size if i == axis else 2 * size for i in range(3)))


def kept(occ: Any, solid: Solids, halves: Solids) -> Solids:
    """What of a solid lies in every half space; empty if nothing does."""
    for half in halves:
        if solid:
            solid = list(occ.intersect(solid, [half], removeObject=True, removeTool=False)[0])
    return solid


def exact_volume(form: Form) -> float:
    """Volume of a form, m³."""
    if isinstance(form, Cylinder):
        return float(np.pi * form.radius**2 * form.length)
    if isinstance(form, Revolved):  # Pappus, edge by edge
        ends = zip(form.outline, (*form.outline[1:], form.outline[0]), strict=True)
        return float(abs(sum(np.pi / 3 * (r0 * r0 + r0 * r1 + r1 * r1) * (z1 - z0) for (r0, z0), (r1, z1) in ends)))
    if isinstance(form, Shaped):
        return form.volume
    a, b, c = (h - l for l, h in zip(form.low, form.high, strict=True))
    hollow = (a - 2 * form.wall) * (b - 2 * form.wall) * (c - form.wall) if isinstance(form, Cover) else 0.0
    return a * b * c - hollow
