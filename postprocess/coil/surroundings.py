"""What stands round a winding, as metal in its section, and the capacitance that it adds.

Poles and bodies float, unless the case has them grounded; covers are grounded; a body that says how it is wired is
wired so. A row of rods is the slab that has the
same capacitance to the winding (:mod:`stringflux.solver.capacitance.rods`); bodies count where they run along most of
the coil. Either side of the coil is solved for itself and counts half. Ceramic magnets are no metal.

Bobbin, tape and wax lie between: something from air to a solid plastic of 3, so the geometric middle. The rest of an
instrument counts as grounded and far; strings, other coils and leads are left out. A coil in series with others lies
above ground as a whole, by what those before it have: all of it has capacitance to ground then.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

import numpy as np

from stringflux.geometry.case.model import Case
from stringflux.geometry.shapes.bodies import Cover, Form
from stringflux.geometry.shapes.row import PlacedPole, Racetrack
from stringflux.solver.capacitance.outside import Metal, Rectangle, outside, winding_boxes
from stringflux.solver.capacitance.rods import slab_for_rods
from stringflux.solver.materials import find_material, material_from_definition

SURROUNDED = (1.0, 3**0.5, 3.0)
"""Least, middle and greatest permittivity of what lies round the winding."""
METAL = 1e-3
"""Ω·m: what conducts better than that is metal to a field of audible frequency."""
TAPE = 0.05e-3
"""m: metal beside the winding is at least so far from it, by tape or the bobbin."""
_ALONG = 0.5  # of the coil's length, from which on a body counts


def outside_capacitance(case: Case, below: float = 0.0) -> float:
    """What the field outside the window adds between the terminals of [coil], F, in air.

    Parameters
    ----------
    case : Case
    below : float
        Voltage of the end that lies nearer to ground, in that of the whole coil: of a second coil in series, 1.
    """
    coil = replace(case.racetrack(), turns=1.0, sense=1)  # which matter to nothing here
    v = np.array([below, below + 1])
    if case.coil.grounded_end == "outer":
        v = v[::-1]
    return float(sum(v @ np.array(_solved(coil, metals(case, side))) @ v for side in (1, -1)) / 2)


def bodies_add(case: Case, below: float = 0.0) -> float:
    """What of :func:`outside_capacitance` the bodies of [[body]] add to poles and winding alone, F, in air."""
    return outside_capacitance(case, below) - outside_capacitance(case.model_copy(update={"body": ()}), below)


@lru_cache(maxsize=64)  # a pure function of the geometry, which most designs of a study share
def _solved(coil: Racetrack, found: tuple[Metal, ...]) -> tuple[tuple[float, float], tuple[float, float]]:
    k = outside(coil, found)
    return (float(k[0, 0]), float(k[0, 1])), (float(k[1, 0]), float(k[1, 1]))


def metals(case: Case, side: int) -> tuple[Metal, ...]:
    """The metal in the section on one side of the first coil, +1 towards +x.

    Bodies that reach into the winding's window with their bounds are left out: what they are there, boxes do not say.
    """
    coil, grounded = case.racetrack(), case.coil.poles == "grounded"
    found = [Metal(boxes=boxes, earthed=grounded) for boxes in _poles(case, coil)]
    for written, body in zip(case.body, case.own_bodies(), strict=True):
        if _conducts(case, body.material):
            boxes = tuple(_boxes(body.form, coil, side))
            if boxes:
                usual = grounded or isinstance(body.form, Cover)
                earthed = usual if written.electrically is None else written.electrically == "grounded"
                found.append(Metal(boxes=boxes, earthed=earthed))
    return tuple(found)


def _conducts(case: Case, material: str) -> bool:
    own = {name: material_from_definition(name, d) for name, d in case.materials.items() if name == material}
    return float(find_material(material, own).resistivity) < METAL


def _poles(case: Case, coil: Racetrack) -> Iterator[tuple[Rectangle, ...]]:
    """The row inside the coil as one stack of slabs, each as high as the middle pole's part."""
    half = coil.straight / 2 + coil.inner_radius
    inside = [p for p in case.placed_poles() if abs(p.y - coil.y_centre) < half]
    if not inside or abs(case.row.x - coil.x_centre) >= coil.inner_radius:
        return
    middle, places = inside[len(inside) // 2], np.sort([p.y for p in inside])
    spacing = float(np.mean(np.diff(places))) if len(inside) > 1 else np.inf
    boxes = [_taped(box, coil) for box in _stack(case, coil, middle, spacing, len(inside)) if not _within(box, coil)]
    if boxes:
        yield tuple(boxes)


def _stack(case: Case, coil: Racetrack, pole: PlacedPole, spacing: float, count: int) -> Iterator[Rectangle]:
    for part in pole.shape.parts:
        if not _conducts(case, part.material):
            continue
        half = max(abs(end) for end in part.along)
        if half < coil.inner_radius:
            half = _slab(half, coil.inner_radius, spacing, count, coil.straight)
        yield 0.0, half, pole.face + part.bottom, pole.face + part.top


@lru_cache(maxsize=64)  # pure as well
def _slab(radius: float, wall: float, spacing: float, count: int, straight: float) -> float:
    return slab_for_rods(radius=radius, wall=wall, spacing=spacing, count=count, straight=straight)


def _boxes(form: Form, coil: Racetrack, side: int) -> Iterator[Rectangle]:
    """Rectangles of a body in the section on that side of the coil."""
    low, high = form.bounds
    half = max(coil.straight / 2, coil.inner_radius)
    along = min(high[1], coil.y_centre + half) - max(low[1], coil.y_centre - half)
    if along < _ALONG * 2 * half:
        return
    near, far = sorted((side * (low[0] - coil.x_centre), side * (high[0] - coil.x_centre)))
    bottom, top = low[2], high[2]
    parts = [(near, far, bottom, top)]
    if isinstance(form, Cover):
        w = form.wall
        parts = [(near, far, top - w, top), (far - w, far, bottom, top - w), (near, near + w, bottom, top - w)]
    for a, b, c, d in parts:
        box = (max(a, 0.0), b, c, d)
        if box[1] > box[0] and not _within(box, coil):
            yield _taped(box, coil)


def _within(box: Rectangle, coil: Racetrack) -> bool:
    """Whether it shares room with the winding."""
    outer = _outer(box, coil)
    return outer is not None and min(box[1], outer) - max(box[0], coil.inner_radius) > 1e-9


def _outer(box: Rectangle, coil: Racetrack) -> float | None:
    """How far the winding reaches out at the heights of the box; None where it is not."""
    return max((b for _, b, low, high in winding_boxes(coil) if min(box[3], high) - max(box[2], low) > 1e-9),
               default=None)


def _taped(box: Rectangle, coil: Racetrack) -> Rectangle:
    """The box, off the winding by the tape if it stands beside it."""
    near, far, bottom, top = box
    a, b = coil.inner_radius, _outer(box, coil)
    if b is not None:
        near, far = (near, min(far, a - TAPE)) if far <= a + 1e-9 else (max(near, b + TAPE), far)
    return near, max(far, near + TAPE), bottom, top
