"""What a build with bodies and several coils must obey: names are told apart, nothing cuts anything, coils go round
something."""

from __future__ import annotations

import math
import re
from itertools import combinations
from typing import TYPE_CHECKING

from ..case.keys import near
from ..case.placed_strings import placed_strings
from ..case.second_coils import CONNECTIONS
from ..errors import CaseError
from ..kernel.overlaps import cuts_winding, is_inside, overlap, touches_string, windings_meet
from ..shapes.bodies import Box, Cylinder, Revolved, SolidBody
from ..shapes.coil_path import PathCoil
from ..shapes.pieces import Shaped
from ..shapes.row import StringShape
from ..units import mm, shown
from .check_strings import CLEARANCE, coil_words

if TYPE_CHECKING:
    from ..case.model import Case

_UNNAMED = re.compile(r"body [0-9]+")


def names_are_unique(case: Case) -> None:
    """Bodies have names of their own, and so have coils.

    Raises
    ------
    CaseError
        If two have one name, or a coil that of a connection.
    """
    places = [f"body {i}" for i in range(1, len(case.body) + 1)]
    poles = [body.name for row in case.rows() for body in row.bodies()]
    _unique([*poles, *(body.name for body in case.own_bodies())], [*poles, *places])
    coils = ["coil", *(f"second_coil {i}" for i in range(1, len(case.second_coil) + 1))]
    _unique(case.coil_names(), coils)
    for where, name in zip(coils, case.coil_names(), strict=True):
        if name in CONNECTIONS:
            raise CaseError(
                f"{where}, name: received {shown(name)}, which is a way to connect coils; name it otherwise"
            )


def _unique(names: list[str] | tuple[str, ...], places: list[str]) -> None:
    first: dict[str, str] = {}
    for name, place in zip(names, places, strict=True):
        if name in first:
            raise CaseError(f"{place}, name: {shown(name)} is the name of {first[name]} too; give each its own")
        first[name] = place


def coils_are_connected(case: Case) -> None:
    """[connection] names coils that there are.

    Raises
    ------
    CaseError
        If it names others, or connects one coil alone.
    """
    names, how = case.coil_names(), case.connection
    if len(names) == 1:
        if how.coils != "series" or how.reversed:
            raise CaseError(
                "connection: there is only one coil; drop this table, or add the other coil as [[second_coil]]"
            )
        return
    known = ", ".join(map(shown, names))
    if how.coils not in (*CONNECTIONS, *names):
        raise CaseError(
            f"connection, coils: received {shown(how.coils)}{near(how.coils, (*CONNECTIONS, *names))}; "
            f'write "series", "parallel" or the name of one coil: {known}'
        )
    for i, name in enumerate(how.reversed, start=1):
        if name not in names:
            raise CaseError(
                f"connection, reversed {i}: received {shown(name)}, which is no coil{near(name, names)}; "
                f"the coils are {known}"
            )


def bodies_stand_clear(case: Case) -> None:
    """No two bodies share volume, but for parts of one row, which `poles_stand_clear` compares.

    Raises
    ------
    CaseError
        If two do.
    """
    poles = [(row.where, body) for row in case.rows() for body in row.bodies()]
    own = [("body", body) for body in case.own_bodies()]
    for (home, first), (other, second) in combinations([*poles, *own], 2):
        if (home == other != "body") or not overlap(first.form, second.form):
            continue
        raise CaseError(f"{_words(second)} runs into {_words(first)}; {_way_out(first, second)}")


def _words(body: SolidBody) -> str:
    """A body as sentences name it: "pole 3, part 1" or "bar"."""
    if isinstance(body.form, Revolved) or _UNNAMED.fullmatch(body.name):
        return body.name.replace(", part", " part")
    return f"body {shown(body.name)}"


def _way_out(first: SolidBody, second: SolidBody) -> str:
    poles = isinstance(first.form, Revolved) + isinstance(second.form, Revolved)
    if poles == 0:
        return "move one of them, or make one smaller (they may touch)"
    if poles == 2:
        return "move one of the rows along the strings by its x, or make the poles thinner"
    plate = second if isinstance(first.form, Revolved) else first
    low, high = plate.form.bounds
    stands = first if plate is second else second
    if isinstance(plate.form, Box) and high[2] - low[2] < min(high[0] - low[0], high[1] - low[1]):
        side = high[2] if stands.form.bounds[1][2] > high[2] else low[2]
        return f"end the pole on the plate, at {mm(side)}, or move the plate (they may touch)"
    return "end the pole on the body, or move one of them (they may touch)"


def coils_stand_clear(case: Case) -> None:
    """Windings cut no body and no other winding, and each goes round something magnetic unless it says that it does
    not, or has a direct current.

    Raises
    ------
    CaseError
        If a winding does, goes round nothing, or round something though its core is air.
    """
    coils = list(zip(case.coil_names(), case.racetracks(), strict=True))
    bodies = case.solid_bodies()
    for (name, coil), (other, second) in combinations(coils, 2):
        if windings_meet(coil, second):
            raise CaseError(
                f"{coil_words(other)}: its winding runs into that of {coil_words(name)}; move one of them by "
                "x, bottom or top, or make it smaller"
            )
    for name, coil in coils:
        for body in bodies:
            # poles of a plain row may leave the winding's height anywhere; `coil_clears_poles` looks at them
            if not case.is_plain_row and cuts_winding(body.form, coil):
                room = "its path wider" if isinstance(coil, PathCoil) else "inner_width or inner_length larger"
                raise CaseError(f"{coil_words(name)}: its winding runs into {_words(body)}; make {room}, or move one "
                                "of them clear (they may touch)")
    for (name, coil), table in zip(coils, case.coils(), strict=True):
        # a plain row is looked at by `coil_clears_poles`; a coil with a current is a source wherever it stands
        if not table.core and (case.is_plain_row or table.direct_current is not None):
            continue
        inside = next((b for b in bodies if case.is_magnetic(b.material) and is_inside(b.form, coil)), None)
        if table.core and inside:
            raise CaseError(f'{coil_words(name)}, core: received "air", and {_words(inside)} is inside the coil; '
                            "leave core out, or move the coil clear (x, bottom, top)")
        if not (table.core or inside):
            raise CaseError(
                f"{coil_words(name)}: a coil without a row; no pole and no magnetic body is inside it, so add a row "
                "of its own or a body, or move the coil (x, bottom, top) round what is there; an air coil, such as a "
                'dummy coil against hum, says core = "air"'
            )


def strings_clear_bodies(case: Case) -> None:
    """No string touches a body of [[body]]; poles and coils are looked at elsewhere.

    Raises
    ------
    CaseError
        If one does.
    """
    for string in placed_strings(case):
        for body in case.own_bodies():
            if _touches(string.shape, body):
                rules = case.string[string.number - 1].rules() or case.strings.rules()
                low, high = body.form.bounds
                raise CaseError(
                    f"string {string.number}, {rules[0]}: the string runs into {_words(body)}, which reaches from "
                    f"{mm(low[2])} to {mm(high[2])}; raise the string or lower the body"
                )


def _touches(string: StringShape, body: SolidBody) -> bool:
    """Whether a string comes nearer than CLEARANCE to a body; a round body that lies counts as its box."""
    low, high = body.form.bounds
    reach = string.outer_radius
    if isinstance(body.form, Cylinder) and body.form.along == 0:
        across, ends = string.y - body.form.base[1], (low[0], high[0])
        up = [string.axis_height + string.slope * x - body.form.base[2] for x in ends]
        nearest = 0.0 if up[0] * up[1] < 0 else min(map(abs, up))
        return math.hypot(across, nearest) < reach + CLEARANCE + body.form.radius
    if not low[1] - reach < string.y < high[1] + reach:
        return False
    heights = [string.axis_height + string.slope * x for x in (low[0], high[0])]
    if not (min(heights) - reach < high[2] + CLEARANCE and max(heights) + reach > low[2] - CLEARANCE):
        return False
    return not isinstance(body.form, Shaped) or touches_string(body.form, string, CLEARANCE)
