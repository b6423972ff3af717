"""How high the strings of a case lie over the top plate, and over what.

The underside of a string runs along z = low + x·tan(plane angle). A gap counts from the face under it, at that
face's own x; of two lines through the bridge, open and fretted string, the open one lies `action` over the last fret.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..shapes.bodies import SolidBody
from ..units import shown
from .rows import PoleRow
from .strings import String

if TYPE_CHECKING:
    from .model import Case

FARTHEST_POLE = 25e-3  # from a string to the pole it belongs to


@dataclass(frozen=True, kw_only=True)
class Face:
    """What a string's gap counts from.

    Attributes
    ----------
    height : float
        Over the top plate, m.
    x : float
        Its place along the strings, m.
    name : str
        What messages call it.
    away : float
        How far beside the string it stands, m.
    pole : int
        Number of the pole through all rows; 0 for a body.
    """

    height: float
    x: float
    name: str
    away: float = 0.0
    pole: int = 0


def rows_under(case: Case, y: float) -> tuple[PoleRow, ...]:
    """The rows of a case, those first that a string at `y` is over: two half rows have their own strings each."""
    return tuple(sorted(case.rows(), key=lambda row: not row.holds(y)))


def face_below(case: Case, y: float) -> Face | None:
    """What lies under a string at `y`: the nearest pole of the first row that it is over, or that has one within
    reach, else the highest magnetic body, else the nearest pole of all; None where there is nothing.
    """
    poles = []
    for row in rows_under(case, y):
        n = row.nearest(y)
        away = abs(row.row.places()[n] - y)
        number = row.before + n + 1
        face = Face(height=row.row.faces()[n], x=row.row.x, name=f"the face of pole {number}", away=away, pole=number)
        if away <= FARTHEST_POLE:
            return face
        poles.append(face)
    below = [body for body in case.own_bodies() if case.is_magnetic(body.material) and _is_under(body, y)]
    if not below:
        return min(poles, key=lambda face: face.away, default=None)
    highest = max(below, key=_top)
    low, high = highest.form.bounds
    return Face(height=_top(highest), x=(low[0] + high[0]) / 2, name=f"the top of {shown(highest.name)}")


def _is_under(body: SolidBody, y: float) -> bool:
    low, high = body.form.bounds
    return low[1] <= y <= high[1]


def _top(body: SolidBody) -> float:
    return body.form.bounds[1][2]


def underside(case: Case, string: String, y: float, face: Face | None) -> float:
    """Height of a string's underside at rest over the top plate, above x = 0, m; nan without what it counts from."""
    common = case.strings
    rule = string if string.rules() else common
    if rule.height is None:
        if face is None:
            return math.nan
        over = face.height - face.x * math.tan(common.plane_angle)
        if rule.gap is not None:
            return over + rule.gap
        return over + (rule.fretted_gap or 0.0) + fretting_drop(case, string)
    height = rule.height
    if rule is common and common.fingerboard_radius is not None:
        highest = min(_sag(case, place) for place in case.string_places())
        height -= _sag(case, y) - highest
    return height


def _sag(case: Case, y: float) -> float:
    """How far the arc of the fingerboard lies below its crown (y = 0) at `y`, m."""
    radius = case.strings.fingerboard_radius or math.inf
    return y**2 / (radius + math.sqrt(radius**2 - y**2)) if math.isfinite(radius) else 0.0


def fretting_drop(case: Case, string: String) -> float:
    """How much lower the string lies over the row when it is held down at the last fret, m."""
    common = case.strings
    scale = string.scale or common.scale or 0.0
    fret_to_bridge = scale * 2 ** (-(common.last_fret or 1) / 12)
    return (common.action or 0.0) * (common.bridge_distance or 0.0) / fret_to_bridge
