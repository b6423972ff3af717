"""What a case must obey beyond the type of each key: bodies do not cut each other, every name is known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import combinations
from typing import TYPE_CHECKING

from ..case.bodies import DIRECTIONS, BodyTable
from ..case.bodies.of_a_pole import FormedPart
from ..case.materials import USES, ConstantPermeability, LinearMagnet
from ..case.placed_strings import FARTHEST_POLE, NO_STRING, fret_to_bridge, placed_strings, string_places
from ..case.poles import Part
from ..case.rows import PoleRow
from ..errors import CaseError
from ..kernel.overlaps import leaves_core, overlap, touches_string
from ..material_names import materials_called
from ..shapes.coil_path import PathCoil
from ..shapes.pieces import Shaped
from ..shapes.row import FormedShape, PartShape
from ..units import mm, shown, within

if TYPE_CHECKING:
    from ..case.model import Case

TOUCH = 1e-9  # bodies may touch; rounding does not count as cutting
BESIDE = 0.5e-3  # m: a coil whose middle is so far off that of its row has perhaps forgotten it
CLEARANCE = 0.1e-3  # between a string and anything under it
LEAST_GAP, GREATEST_GAP = 0.2e-3, 15e-3
BODY_USES = ("magnet", "soft", "conductor", "spacer")  # what a body may be made of


def rows_are_complete(case: Case) -> tuple[PoleRow, ...]:
    """All rows, once it is known that each has its poles.

    Raises
    ------
    CaseError
        If a row has no poles, or poles no row, or rows are charged in two ways.
    """
    if case.row.places() and not case.pole:
        raise CaseError("pole: it is missing; say how the poles of [row] are made, or drop the row")
    if case.pole and not case.row.places():
        raise CaseError("row: it is missing; say where the poles stand, or drop pole")
    rows = case.rows()
    for row in rows[1:]:
        if row.row.charged != rows[0].row.charged:
            raise CaseError(
                f"{row.where}row, charged: received {shown(row.row.charged)}, but the row before has "
                f"{shown(rows[0].row.charged)}; write the same for all, one pickup is charged in one way"
            )
    return rows


def every_pole_is_made_once(row: PoleRow) -> None:
    """Each pole of a row is made like one item of `pole`.

    Raises
    ------
    CaseError
        If a pole is made twice, or by none.
    """
    count, where = len(row.row.places()), row.where
    made: dict[int, int] = {}
    rest = [i for i, pole in enumerate(row.pole, start=1) if pole.at is None]
    if len(rest) > 1:
        raise CaseError(
            f"{where}pole {rest[1]}, at: it is missing, as in pole {rest[0]}; say which poles each is for"
        )
    for entry, pole in enumerate(row.pole, start=1):
        for number in pole.at or ():
            if number > count:
                raise CaseError(f"{where}pole {entry}, at: received {number}; the row has poles 1 to {count}")
            if number in made:
                raise CaseError(
                    f"{where}pole {entry}, at: received {number}, as pole {made[number]} does; keep it in one"
                )
            made[number] = entry
    missing = [n for n in range(1, count + 1) if n not in made]
    if missing and not rest:
        raise CaseError(f"{where}pole: none is for number {missing[0]}; add it to an at, or leave one at out")
    if rest and not missing:
        raise CaseError(
            f"{where}pole {rest[0]}, at: it is missing, but the others already make all {count} poles"
        )


def materials_are_known(case: Case, known: Mapping[str, str] | None) -> None:
    """Names and uses of materials; `known` has the use ("magnet", "soft", "string") of each built-in name.

    Raises
    ------
    CaseError
        If a name is unknown, or is used for what it is not.
    """
    uses = dict(known or {})
    uses.update({name: USES[own.kind] for name, own in case.materials.items()})

    metals = ("string",)

    def use(where: str, name: str, wanted: tuple[str, ...], noun: str) -> str | None:
        if name not in uses:
            if known is None:
                return None
            called = materials_called(name, uses)
            meant = f" (did you mean {' or '.join(shown(n) for n in called)}?)" if called else ""
            raise CaseError(
                f"{where}: received {shown(name)}, which is no known material{meant}; "
                "`stringflux materials` lists them, or define it under [materials]"
            )
        if wanted == metals and isinstance(case.materials.get(name), ConstantPermeability):
            return "string"  # a linear string, as reference computations use
        if uses[name] not in wanted:
            hint = ", ".join(n for n, u in uses.items() if u in wanted) or "one defined under [materials]"
            raise CaseError(f"{where}: received {shown(name)}, which is no {noun}; write one of {hint}")
        return uses[name]

    for row in case.rows():
        for i, pole in enumerate(row.pole, start=1):
            for j, part in enumerate(pole.part, start=1):
                where = f"{row.where}pole {i}, part {j}"
                found = use(f"{where}, material", part.material, ("magnet", "soft"), "magnet or soft steel")
                _is_a_magnet_or_not(case, where, part, found, "polarity", 'write "north up" or "south up"')
                if part.thread_pitch is not None and found == "magnet":
                    raise CaseError(_turned_magnet(where, part.material))
    for i, body in enumerate(case.body, start=1):
        found = use(f"body {i}, material", body.material, BODY_USES, "material of a body")
        if found == "magnet" and body.magnetised is None:
            raise CaseError(
                f"body {i}, magnetised: a magnet with no axis; {shown(body.material)} is a magnet, so write "
                f"where its north end points: one of {', '.join(map(shown, DIRECTIONS))}, or three numbers [x, y, z]"
            )
        _is_a_magnet_or_not(case, f"body {i}", body, found, "magnetised", "say where its north end points")
        if body.screw is not None and found == "magnet":
            raise CaseError(_turned_magnet(f"body {i}", body.material))
    use("strings, steel", case.strings.steel, metals, "string steel")
    use("strings, wrap", case.strings.wrap, metals, "string metal")
    for i, string in enumerate(case.string, start=1):
        use(f"string {i}, steel", string.steel or case.strings.steel, metals, "string steel")
        use(f"string {i}, wrap", string.wrap or case.strings.wrap, metals, "string metal")


def _turned_magnet(where: str, material: str) -> str:
    return (f"{where}, thread: received on {shown(material)}, a magnet, which is not turned; write it on the steel "
            "part that is the screw, or leave it out")


def _is_a_magnet_or_not(
    case: Case, where: str, piece: Part | FormedPart | BodyTable, use: str | None, key: str, wanted: str
) -> None:
    """A magnet has a direction, under `key`, and what is none has nothing of a magnet."""
    name, towards = shown(piece.material), getattr(piece, key)
    if use == "magnet" and towards is None:
        raise CaseError(f"{where}, {key}: it is missing, but {name} is a magnet; {wanted}")
    if use is not None and use != "magnet":
        if towards is not None:
            raise CaseError(
                f"{where}, {key}: received {shown(towards)}, but {name} is no magnet; "
                f"drop {key}, or name a magnet"
            )
        for scale in ("charge", "coercivity_scale", "remanence_scale"):
            value = getattr(piece, scale)
            if value != 1:
                raise CaseError(
                    f"{where}, {scale}: received {value:g}, but {name} is no magnet; drop {scale}"
                )
    if isinstance(case.materials.get(piece.material), LinearMagnet) and piece.coercivity_scale != 1:
        raise CaseError(
            f"{where}, coercivity_scale: received {piece.coercivity_scale:g}, but {name} is "
            "a linear magnet, which has no coercivity of its own; change its remanence or drop this"
        )


def there_are_strings(case: Case, *, without_strings: bool) -> None:
    """A case has a string, or is for those who do without.

    Raises
    ------
    CaseError
        If it has none.
    """
    if not case.string and not without_strings:
        raise CaseError(NO_STRING)


def strings_are_complete(case: Case) -> None:
    """Everything a string may take from [strings] is in one place or the other.

    Raises
    ------
    CaseError
        If a string lacks its scale, place or height, or lies far outside.
    """
    common = case.strings
    placed = common.spacing is not None or len(case.string) == len(case.row.places())
    places = string_places(case)
    for i, string in enumerate(case.string, start=1):
        if string.scale is None and common.scale is None:
            raise CaseError(
                f'string {i}, scale: it is missing; write scale = "25.5 in" or so here or in [strings]'
            )
        if string.position is None and not placed:
            raise CaseError(
                f"string {i}, position: it is missing, and strings that are not as many as the poles "
                f"({len(case.string)} over {len(case.row.places())}) do not place themselves; "
                "write it here, or spacing in [strings]"
            )
        rules = string.rules() or common.rules()
        if not rules:
            raise CaseError(f"string {i}, gap: it is missing; write gap or height, here or in [strings]")
        if rules == ["fretted_gap"]:
            _fretted_is_complete(case, i)
        if abs(places[i - 1]) > 150e-3:
            raise CaseError(
                f"strings, spacing: it puts string {i} over 150 mm from the middle; bring them closer"
            )
    if common.fingerboard_radius is not None and places:
        far = max(abs(y) for y in places)
        if not within(far / 0.9, 0.0, common.fingerboard_radius):
            raise CaseError(
                f"strings, fingerboard_radius: received {mm(common.fingerboard_radius)}, with a string "
                f"{mm(far)} from the middle; write a larger radius, from {mm(far / 0.9)} on"
            )


def _fretted_is_complete(case: Case, number: int) -> None:
    common = case.strings
    for key in ("last_fret", "action", "bridge_distance"):
        if getattr(common, key) is None:
            raise CaseError(
                f"strings, {key}: it is missing; string {number} is given by fretted_gap, which needs it"
            )
    fret = fret_to_bridge(case, case.string[number - 1])
    if (common.bridge_distance or 0.0) > fret:
        raise CaseError(
            f"strings, bridge_distance: received {mm(common.bridge_distance or 0.0)}, but the last fret "
            f"is {mm(fret)} from the bridge; write less than that"
        )


def poles_stand_clear(row: PoleRow) -> None:
    """No two poles of a row share volume.

    Raises
    ------
    CaseError
        If two of them overlap.
    """
    if not row.is_round:
        return _forms_stand_clear(row)
    poles = row.placed()
    for i, first in enumerate(poles):
        for j, second in enumerate(poles[i + 1 :], start=i + 1):
            apart = abs(first.y - second.y)
            for a in first.shape.parts:
                for b in second.shape.parts:
                    low = max(first.face + a.bottom, second.face + b.bottom)
                    high = min(first.face + a.top, second.face + b.top)
                    if low < high and apart < a.radius + b.radius - TOUCH:
                        raise CaseError(
                            f"{row.where}row: poles {i + 1} and {j + 1} are {mm(apart)} apart and overlap; put "
                            f"them at least {mm(a.radius + b.radius)} apart or make them thinner"
                        )


def _forms_stand_clear(row: PoleRow) -> None:
    """The same of poles of any form, by their forms."""
    own = [(n, part) for n in range(1, len(row.row.places()) + 1) for part in row.standing(n)]
    for (i, first), (j, second) in combinations(own, 2):
        if i != j and overlap(first.form, second.form):
            apart = abs(row.row.places()[i - 1] - row.row.places()[j - 1])
            raise CaseError(f"{row.where}row: poles {i} and {j} are {mm(apart)} apart and overlap; put them farther "
                            "apart, make them narrower, or turn them by rotated")


def coil_clears_poles(case: Case) -> None:
    """A coil goes round all poles of its own row that reach its height.

    Raises
    ------
    CaseError
        If a winding cuts a pole of its row or leaves it outside.
    """
    tracks = dict(zip(("", *(f"second_coil {i}, " for i in range(1, 4))), case.racetracks(), strict=False))
    for row in case.rows():
        coil = tracks[row.where]
        if isinstance(coil, PathCoil):  # what it cuts is looked at body by body
            continue
        for number, pole in enumerate(row.placed(), start=1):
            for part, body in zip(pole.shape.parts, row.standing(number), strict=True):
                if pole.face + part.bottom >= coil.top - TOUCH or pole.face + part.top <= coil.bottom + TOUCH:
                    continue
                if leaves_core(body.form, coil):
                    places = row.row.places()
                    middle = round((min(places) + max(places)) / 2, 9)
                    beside = (f"set centre to {mm(middle)}, the middle of its row, "
                              if abs(middle - coil.y_centre) > BESIDE else "")
                    raise CaseError(
                        f"{row.where}coil: the winding cuts pole {row.before + number} ({shown(part.material)}, "
                        f"{_measure(part)}) or leaves it outside; {beside}enlarge inner_width or "
                        "inner_length, or move top or bottom clear of it"
                    )


def _measure(part: PartShape) -> str:
    return f"{part.size} mm" if isinstance(part, FormedShape) else f"diameter {mm(2 * part.radius)}"


def strings_lie_clear(case: Case) -> None:
    """Of each other, of every pole and of every coil, and at a sensible gap.

    Raises
    ------
    CaseError
        If a string touches something, lies over nothing, or its gap is none that is built.
    """
    slope = abs(math.tan(case.strings.plane_angle))
    strings = placed_strings(case)
    for a, b in combinations(strings, 2):
        apart = math.hypot(a.y - b.y, a.shape.axis_height - b.shape.axis_height)
        if apart < a.shape.outer_radius + b.shape.outer_radius:
            raise CaseError(f"string {b.number}: it runs into string {a.number}; give them different places")
    for string in strings:
        rules = case.string[string.number - 1].rules() or case.strings.rules()
        where, radius = f"string {string.number}, {rules[0]}", string.shape.outer_radius
        for row in case.rows():
            here = string.underside_at(row.row.x)
            for number, pole in enumerate(row.placed(), start=row.before + 1):
                bodies = row.standing(number - row.before)
                for part, body in zip(pole.shape.parts, bodies, strict=True):
                    across = abs(string.y - pole.y) < part.radius + radius
                    if across and here - slope * part.radius < pole.face + part.top + CLEARANCE and (
                            not isinstance(body.form, Shaped) or touches_string(body.form, string.shape, CLEARANCE)):
                        raise CaseError(
                            f"{where}: the string's underside at {mm(here)} runs into pole {number}, which "
                            f"reaches {mm(pole.face + part.top)}; raise the string or lower the pole"
                        )
        for name, coil in zip(case.coil_names(), case.racetracks(), strict=True):
            (left, low, _), (right, high, _) = coil.bounds
            reach, here = (right - left) / 2, string.underside_at((left + right) / 2)
            if low - radius < string.y < high + radius and here - slope * reach < coil.top + CLEARANCE:
                raise CaseError(
                    f"{where}: the string's underside at {mm(here)} runs into the {coil_words(name)}, which reaches "
                    f"{mm(coil.top)}; raise the string or lower top in [coil]"
                )
        face, gap = string.face, string.gap
        if face.away > FARTHEST_POLE + TOUCH:
            raise CaseError(
                f"string {string.number}, position: it is {mm(face.away)} from the nearest pole; "
                f"bring it within {mm(FARTHEST_POLE)}"
            )
        if not LEAST_GAP - TOUCH <= gap <= GREATEST_GAP + TOUCH:
            raise CaseError(
                f"{where}: it leaves {mm(gap)} between the string and {face.name}; make that "
                f"{mm(LEAST_GAP)} to {mm(GREATEST_GAP)}"
            )


def coil_words(coil: str) -> str:
    """A coil as a sentence names it."""
    return "coil" if coil == "coil" else f"coil {shown(coil)}"
