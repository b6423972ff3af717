"""Whether bodies share volume with each other, with a winding or with a string, whatever their form.

Boxes, cylinders and covers by :mod:`..shapes.overlaps`; what is made of pieces by the solids that the kernel finds in
both. Touching is no overlap.
"""

from __future__ import annotations

import math

from ..shapes import overlaps as plain
from ..shapes.bodies import Form
from ..shapes.coil_path import PathCoil
from ..shapes.loops import Loop, circle
from ..shapes.pieces import FormPiece, Prism, Shaped
from ..shapes.placement import Placement, about, lying
from ..shapes.row import Racetrack, StringShape
from .measure import shared_volume


def overlap(first: Form, second: Form) -> bool:
    """Whether two bodies share volume."""
    if not isinstance(first, Shaped) and not isinstance(second, Shaped):
        return plain.overlap(first, second)
    return plain.boxes_meet(first.bounds, second.bounds) and shared_volume(first, second) > 0.0


def cuts_winding(form: Form, coil: Racetrack) -> bool:
    """Whether a body shares volume with a winding; what lies inside or outside it does not."""
    if not isinstance(form, Shaped) and not isinstance(coil, PathCoil):
        return plain.cuts_winding(form, coil)
    (_, _, z0), (_, _, z1) = form.bounds
    low, high = max(z0, coil.bottom), min(z1, coil.top)
    if high - low <= plain.TOUCH:
        return False
    return overlap(form, winding_room(coil, coil.build_between(low, high)))


def is_inside(form: Form, coil: Racetrack) -> bool:
    """Whether a winding goes round a body that does not cut it: it reaches the winding's height, inside it."""
    if not isinstance(form, Shaped) and not isinstance(coil, PathCoil):
        return plain.is_inside(form, coil)
    return overlap(form, winding_room(coil, 0.0))


def windings_meet(first: Racetrack, second: Racetrack) -> bool:
    """Whether two windings share volume."""
    if not isinstance(first, PathCoil) and not isinstance(second, PathCoil):
        return plain.windings_meet(first, second)
    low, high = max(first.bottom, second.bottom), min(first.top, second.top)
    if high - low <= plain.TOUCH:
        return False
    return overlap(*(winding_room(c, c.build_between(low, high)) for c in (first, second)))


def leaves_core(form: Form, coil: Racetrack) -> bool:
    """Whether some of a body at a winding's height is not inside it; only touching is no leaving.

    An upright body of revolution is taken for the cylinder round it.
    """
    (x0, y0, z0), (x1, y1, z1) = form.bounds
    if min(z1, coil.top) - max(z0, coil.bottom) <= plain.TOUCH:
        return False
    if isinstance(form, Shaped):
        far = coil.inner_radius + coil.straight + max(map(abs, (x0, x1, y0, y1, coil.x_centre, coil.y_centre))) * 3
        around = Prism(outline=_stadium(coil, far), holes=(_stadium(coil, coil.inner_radius),),
                       length=coil.top - coil.bottom)
        x, y, half = coil.x_centre, coil.y_centre, far + coil.straight
        return overlap(form, _form(around, Placement(shift=(0.0, 0.0, coil.bottom)),
                                   (x - half, y - half, coil.bottom), (x + half, y + half, coil.top)))
    # distance of its axis from the straight line in the middle of the race-track
    off = max(0.0, abs((y0 + y1) / 2 - coil.y_centre) - coil.straight / 2)
    return math.hypot(off, (x0 + x1) / 2 - coil.x_centre) + (x1 - x0) / 2 > coil.inner_radius + plain.TOUCH


def touches_string(form: Shaped, string: StringShape, clearance: float) -> bool:
    """Whether a string comes nearer to a body than `clearance`, m."""
    (x0, _, _), (x1, _, _) = form.bounds
    radius, half = string.outer_radius + clearance, (x1 - x0) / 2 + string.outer_radius + clearance
    middle = (x0 + x1) / 2
    way = lying(0).then(about(1, -math.atan(string.slope)))
    place = way.moved(middle, string.y, string.axis_height + string.slope * middle)
    low = Placement(shift=(0.0, 0.0, -half)).then(place)
    reach = half + radius
    return overlap(form, _form(Prism(outline=circle((0.0, 0.0), radius), length=2 * half), low,
                               (middle - reach, string.y - reach, place.shift[2] - reach),
                               (middle + reach, string.y + reach, place.shift[2] + reach)))


def winding_room(coil: Racetrack, build: float) -> Shaped:
    """The room that a winding of this thickness takes; within it where that is 0."""
    loops = [coil.edge(u) if isinstance(coil, PathCoil) else _stadium(coil, coil.inner_radius + u) for u in (0.0,
    build)]
    shape = Prism(outline=loops[1], holes=(loops[0],) if build > 0 else (), length=coil.top - coil.bottom)
    low, high = coil.bounds
    return _form(shape, Placement(shift=(0.0, 0.0, coil.bottom)), low, high)


def _stadium(coil: Racetrack, radius: float) -> Loop:
    x, y, half = coil.x_centre, coil.y_centre, coil.straight / 2
    if half == 0.0:
        return circle((x, y), radius)
    return ((x + radius, y - half, 0.0), (x + radius, y + half, 1.0), (x - radius, y + half, 0.0),
            (x - radius, y - half, 1.0))


def _form(shape: Prism, placement: Placement, low: tuple[float, float, float],
          high: tuple[float, float, float]) -> Shaped:
    return Shaped(kind="room", joined=(FormPiece(shape=shape, placement=placement),), bounds=(low, high), volume=0.0,
                  thickness=shape.length)
