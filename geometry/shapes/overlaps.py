"""Whether bodies share volume: boxes and cylinders along x, y or z against each other and against a coil's winding.

All tests are exact for these pieces; a winding whose thickness changes is as thick as anywhere along a piece. A
cover counts as its lid and four walls; a pole's part as the upright cylinder round it. Touching is no overlap.
What is made of pieces: :mod:`..kernel.overlaps`.
"""

from __future__ import annotations

import math

from .bodies import Box, Cover, Cylinder, Plain, Point
from .row import Racetrack

TOUCH = 1e-9  # bodies may touch; rounding does not count as cutting


def pieces(form: Plain) -> tuple[Box | Cylinder, ...]:
    """A form as boxes and cylinders."""
    if isinstance(form, Box | Cylinder):
        return (form,)
    if isinstance(form, Cover):
        return _slabs(form)
    low, high = form.bounds
    return (
        Cylinder(
            base=(form.x, form.y, low[2]), along=2, length=high[2] - low[2], radius=max(r for r, _ in form.outline)
        ),
    )


def _slabs(cover: Cover) -> tuple[Box, ...]:
    """Lid, two walls across over the whole width, and two walls along between them."""
    (x0, y0, z0), (x1, y1, z1), t = cover.low, cover.high, cover.wall
    under = z1 - t
    return (
        Box(low=(x0, y0, under), high=(x1, y1, z1)),
        Box(low=(x0, y0, z0), high=(x0 + t, y1, under)),
        Box(low=(x1 - t, y0, z0), high=(x1, y1, under)),
        Box(low=(x0 + t, y0, z0), high=(x1 - t, y0 + t, under)),
        Box(low=(x0 + t, y1 - t, z0), high=(x1 - t, y1, under)),
    )


def overlap(first: Plain, second: Plain) -> bool:
    """Whether two bodies share volume."""
    if not boxes_meet(first.bounds, second.bounds):
        return False
    return any(_meet(a, b) for a in pieces(first) for b in pieces(second))


def boxes_meet(a: tuple[Point, Point], b: tuple[Point, Point]) -> bool:
    """Whether two boxes, by their corners, share volume."""
    return all(min(a[1][i], b[1][i]) - max(a[0][i], b[0][i]) > TOUCH for i in range(3))


def _meet(a: Box | Cylinder, b: Box | Cylinder) -> bool:
    if not boxes_meet(a.bounds, b.bounds):
        return False
    if isinstance(a, Box):
        return True if isinstance(b, Box) else _box_meets_cylinder(a, b)
    return _box_meets_cylinder(b, a) if isinstance(b, Box) else _cylinders_meet(a, b)


def _box_meets_cylinder(box: Box, rod: Cylinder) -> bool:
    """Seen along the rod: a rectangle and a disc. Their bounds meet already."""
    off = [max(box.low[i] - rod.base[i], rod.base[i] - box.high[i], 0.0) for i in range(3) if i != rod.along]
    return math.hypot(*off) < rod.radius - TOUCH


def _cylinders_meet(a: Cylinder, b: Cylinder) -> bool:
    if a.along == b.along:
        apart = math.hypot(*(a.base[i] - b.base[i] for i in range(3) if i != a.along))
        return apart < a.radius + b.radius - TOUCH
    # crossed: cut both at one place of the third axis; each is a rectangle there, as wide as its circle is at that
    # place, and both are wide enough to meet over an interval of that axis
    third = 3 - a.along - b.along
    reach = 0.0
    for rod, other in ((a, b), (b, a)):
        low, high = other.base[other.along], other.base[other.along] + other.length
        beyond = max(low - rod.base[other.along], rod.base[other.along] - high, 0.0)
        if beyond >= rod.radius:
            return False
        reach += math.sqrt(rod.radius**2 - beyond**2)
    return abs(a.base[third] - b.base[third]) < reach - TOUCH


def cuts_winding(form: Plain, coil: Racetrack) -> bool:
    """Whether a body shares volume with a winding; what lies inside or outside it does not."""
    return any(_cuts(piece, coil) for piece in pieces(form))


def _cuts(piece: Box | Cylinder, coil: Racetrack) -> bool:
    (x0, y0, z0), (x1, y1, z1) = piece.bounds
    low, high = max(z0, coil.bottom), min(z1, coil.top)
    if high - low <= TOUCH:
        return False
    outer, half = coil.inner_radius + coil.build_between(low, high), coil.straight / 2
    if isinstance(piece, Cylinder) and piece.along == 2:
        x, y, _ = piece.base
        off = math.hypot(x - coil.x_centre, max(0.0, abs(y - coil.y_centre) - half))
        return off + piece.radius > coil.inner_radius + TOUCH and off - piece.radius < outer - TOUCH
    if isinstance(piece, Cylinder):
        # the widest of the rectangles that its slices within the winding's height are
        middle = piece.base[2]
        beyond = max(low - middle, middle - high, 0.0)
        width = math.sqrt(max(piece.radius**2 - beyond**2, 0.0))
        x, y, _ = piece.base
        x0, x1 = (x0, x1) if piece.along == 0 else (x - width, x + width)
        y0, y1 = (y0, y1) if piece.along == 1 else (y - width, y + width)
    far = max(
        math.hypot(x - coil.x_centre, max(0.0, abs(y - coil.y_centre) - half)) for x in (x0, x1) for y in (y0, y1)
    )
    near = math.hypot(
        max(x0 - coil.x_centre, coil.x_centre - x1, 0.0),
        max(y0 - coil.y_centre - half, coil.y_centre - half - y1, 0.0),
    )
    return far > coil.inner_radius + TOUCH and near < outer - TOUCH


def is_inside(form: Plain, coil: Racetrack) -> bool:
    """Whether a winding goes round a body that does not cut it: it reaches the winding's height, inside it."""
    for piece in pieces(form):
        (x0, y0, z0), (x1, y1, z1) = piece.bounds
        x, y = (x0 + x1) / 2 - coil.x_centre, (y0 + y1) / 2 - coil.y_centre
        within = math.hypot(x, max(0.0, abs(y) - coil.straight / 2)) < coil.inner_radius
        if within and min(z1, coil.top) - max(z0, coil.bottom) > TOUCH:
            return True
    return False


def windings_meet(a: Racetrack, b: Racetrack) -> bool:
    """Whether two windings share volume: same heights, and neither beside nor inside the other."""
    low, high = max(a.bottom, b.bottom), min(a.top, b.top)
    if high - low <= TOUCH:
        return False
    # the thickest that either is at the heights that they share; of two that change both along them that is careful
    first, second = a.build_between(low, high), b.build_between(low, high)
    dx, dy = abs(a.x_centre - b.x_centre), a.y_centre - b.y_centre
    gap = math.hypot(dx, max(0.0, abs(dy) - (a.straight + b.straight) / 2))
    if gap >= a.inner_radius + first + b.inner_radius + second - TOUCH:
        return False
    for hole, body, build in ((a, b, second), (b, a, first)):
        # the farthest point of the body's middle line from the middle line of the hole
        far = math.hypot(dx, max(0.0, abs(dy) + (body.straight - hole.straight) / 2))
        if far + body.inner_radius + build <= hole.inner_radius + TOUCH:
            return False
    return True
