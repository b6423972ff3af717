"""The strings of a case at rest in their places: how high they lie, over what, and what they are.

The underside of a string runs along z = low + x·tan(plane angle). Its gap counts from the face under it, at that
face's own x::

    gap = low + x_face·tan(plane angle) − z_face

Of two lines through the bridge, open and fretted string, the open one lies `action` over the last fret.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..errors import CaseError
from ..shapes.bodies import SolidBody
from ..shapes.pieces import Shaped
from ..shapes.row import StringShape
from ..units import shown
from .materials import StringMetal
from .model import Case
from .poles import centred
from .rows import Face, PoleRow
from .strings import DENSITIES, PLAIN_STEEL, String, plain_mass, tension, wound_mass

NO_STRING = "string: it is missing; add a [[string]], without which a case is for check-case, flux and force alone"
FARTHEST_POLE = 25e-3  # from a string to the pole it belongs to


@dataclass(frozen=True, kw_only=True)
class PlacedString:
    """A string of a case at rest.

    Attributes
    ----------
    number : int
        From 1, as the file counts.
    shape : StringShape
        As solvers see it.
    underside : float
        Height of its underside over the top plate, above x = 0, m.
    face : Face
        What its gap counts from: of a pole, or the top of a body.
    pole : int
        Number, through all rows, of the nearest pole of the first row that it is over, however far that is; 0 in a
        case without poles.
    pitch : float
        Of the open string, Hz.
    scale : float
        Its sounding length, m.
    unit_mass : float
        Mass per length, kg/m.
    tension : float
        At its pitch, N.
    """

    number: int
    shape: StringShape
    underside: float
    face: Face
    pole: int
    pitch: float
    scale: float
    unit_mass: float
    tension: float

    @property
    def y(self) -> float:
        """Place across the row, m."""
        return self.shape.y

    @property
    def gap(self) -> float:
        """Its underside over the face under it, m."""
        return self.gap_over(self.face)

    @property
    def grounded(self) -> float:
        """Height of its axis above x = 0 with no gap left, m."""
        return self.shape.axis_height - self.gap

    def axis_on(self, height: float) -> float:
        """Height of its axis above x = 0 when its underside lies at a height there, m."""
        return height + self.shape.outer_radius

    def underside_at(self, x: float) -> float:
        """Height of its underside over the top plate at a place along it, m."""
        return self.underside + self.shape.slope * x

    def gap_over(self, face: Face) -> float:
        """Its underside over any face, there and not at x = 0, m."""
        return self.underside_at(face.x) - face.height


def placed_strings(case: Case) -> tuple[PlacedString, ...]:
    """The strings of a case, in their order in the file; to be held by who needs them twice.

    Raises
    ------
    CaseError
        If a string lies over nothing, which no checked case has.
    """
    return tuple(_placed(case, i, string, y)
                 for i, (string, y) in enumerate(zip(case.string, string_places(case), strict=True), start=1))


def needed_strings(case: Case) -> tuple[PlacedString, ...]:
    """The same of a case that has one.

    Raises
    ------
    CaseError
        If it has none.
    """
    if not case.string:
        raise CaseError(NO_STRING)
    return placed_strings(case)


def _placed(case: Case, number: int, string: String, y: float) -> PlacedString:
    rows, face = rows_under(case, y), face_below(case, y)
    if face is None:
        raise CaseError(f"string {number}, position: no pole and no magnetic body lies under it; bring it over one, "
                        "or make the body longer")
    low = _underside(case, string, y, face)
    scale, mass = sounding_length(case, string), unit_mass(case, string)
    return PlacedString(
        number=number, shape=_shape(case, string, y, low), underside=low, face=face,
        pole=rows[0].face_under(y).pole if rows else 0, pitch=string.pitch, scale=scale, unit_mass=mass,
        tension=tension(mass, scale, string.pitch))


def string_places(case: Case) -> tuple[float, ...]:
    """Place of each string across the row, m; nan for one that the file does not place, which is refused."""
    count = len(case.string)
    if case.strings.spacing is not None:
        common = centred(count, case.strings.spacing)
    elif count == len(case.row.places()):
        common = case.row.places()
    else:
        common = (math.nan,) * count
    return tuple(y if s.position is None else s.position for s, y in zip(case.string, common, strict=True))


def rows_under(case: Case, y: float) -> tuple[PoleRow, ...]:
    """The rows of a case, those first that a string at `y` is over: two half rows have their own strings each."""
    return tuple(sorted(case.rows(), key=lambda row: not row.holds(y)))


def face_below(case: Case, y: float) -> Face | None:
    """What lies under a string at `y`: the nearest pole of the first row that it is over, or that has one within
    reach, else the highest magnetic body, else the nearest pole of all; None where there is nothing.
    """
    poles = [row.face_under(y) for row in rows_under(case, y)]
    for face in poles:
        if face.away <= FARTHEST_POLE:
            return face
    below = [(i, body) for i, body in enumerate(case.own_bodies(), start=1)
             if case.is_magnetic(body.material) and _is_under(body, y)]
    if not below:
        return min(poles, key=lambda face: face.away, default=None)
    (number, highest), (x, top) = max(((found, _top(found[1], y)) for found in below), key=lambda pair: pair[1][1])
    return Face(height=top, x=x, name=f"the top of {shown(highest.name)}", body=number)


def _is_under(body: SolidBody, y: float) -> bool:
    low, high = body.form.bounds
    return low[1] <= y <= high[1] and (not isinstance(body.form, Shaped) or _cut(body.form, y) is not None)


def _cut(form: Shaped, y: float) -> tuple[float, float] | None:
    from ..kernel.views import top_over  # loads numpy

    return top_over(form, y)


def _top(body: SolidBody, y: float) -> tuple[float, float]:
    """Where a body is highest under a string at `y`: x, and its height."""
    low, high = body.form.bounds
    own = _cut(body.form, y) if isinstance(body.form, Shaped) else None
    return own or ((low[0] + high[0]) / 2, high[2])


def _underside(case: Case, string: String, y: float, face: Face) -> float:
    """Height of a string's underside at rest over the top plate, above x = 0, m."""
    common = case.strings
    rule = string if string.rules() else common
    if rule.height is None:
        over = face.height - face.x * math.tan(common.plane_angle)
        if rule.gap is not None:
            return over + rule.gap
        return over + (rule.fretted_gap or 0.0) + _fretting_drop(case, string)
    height = rule.height
    if rule is common and common.fingerboard_radius is not None:
        highest = min(_sag(case, place) for place in string_places(case))
        height -= _sag(case, y) - highest
    return height


def _sag(case: Case, y: float) -> float:
    """How far the arc of the fingerboard lies below its crown (y = 0) at `y`, m."""
    radius = case.strings.fingerboard_radius or math.inf
    return y**2 / (radius + math.sqrt(radius**2 - y**2)) if math.isfinite(radius) else 0.0


def _fretting_drop(case: Case, string: String) -> float:
    """How much lower the string lies over the row when it is held down at the last fret, m."""
    common = case.strings
    return (common.action or 0.0) * (common.bridge_distance or 0.0) / fret_to_bridge(case, string)


def fret_to_bridge(case: Case, string: String) -> float:
    """Length of a string that is held down at the last fret, m."""
    return sounding_length(case, string) * 2 ** (-(case.strings.last_fret or 1) / 12)


def sounding_length(case: Case, string: String) -> float:
    """Of the open string, m; 0 if the file does not say it, which is refused."""
    return string.scale or case.strings.scale or 0.0


def _shape(case: Case, string: String, y: float, low: float) -> StringShape:
    wound, common = string.core is not None, case.strings
    return StringShape(
        y=y,
        # low is measured down from the axis; at these slopes the cosine is 1 within 0.14 %
        axis_height=low + string.gauge / 2,
        core_radius=(string.core or string.gauge) / 2,
        wrap_diameter=string.wrap_diameter,
        wrap_gap=_wrap_gap(case, string) if wound else 0.0,
        steel=string.steel or common.steel,
        wrap=(string.wrap or common.wrap) if wound else "",
        slope=math.tan(common.plane_angle),
        state=common.state,
        pinning=string.pinning_scale,
    )


def unit_mass(case: Case, string: String) -> float:
    """Mass per length of a string, kg/m."""
    common = case.strings
    steel = _density(case, string.steel or common.steel)
    if string.core is None:
        return plain_mass(string.gauge, steel)
    return wound_mass(string.core, string.wrap_diameter, _wrap_gap(case, string), steel_density=steel,
                      wrap_density=_density(case, string.wrap or common.wrap))


def _wrap_gap(case: Case, string: String) -> float:
    return case.strings.wrap_gap if string.wrap_gap is None else string.wrap_gap


def _density(case: Case, name: str) -> float:
    own = case.materials.get(name)
    return own.density if isinstance(own, StringMetal) else DENSITIES.get(name, PLAIN_STEEL)


def side_names(case: Case) -> tuple[str, str]:
    """What the sides at the lowest and at the highest y are called, by the pitch of the outermost strings.

    Examples
    --------
    >>> from stringflux.cases import load_case
    >>> side_names(load_case("bass-four"))
    ('bass side', 'treble side')
    """
    strings = placed_strings(case)
    first, last = (min(strings, key=lambda s: s.y), max(strings, key=lambda s: s.y))
    low, high = (case.string[s.number - 1].pitch for s in (first, last))
    if low == high:
        return f"side of string {first.number}", f"side of string {last.number}"
    return ("bass side", "treble side") if low < high else ("treble side", "bass side")
