"""What a case must obey beyond the type of each key: bodies do not cut each other, every name is known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import combinations
from typing import TYPE_CHECKING

from .fields import near
from .own_materials import USES, ConstantPermeability, LinearMagnet
from .shapes import PlacedPole, Racetrack
from .units import mm, shown

if TYPE_CHECKING:
    from .case import Case

TOUCH = 1e-9  # bodies may touch; rounding does not count as cutting
CLEARANCE = 0.1e-3  # between a string and anything under it
LEAST_GAP, GREATEST_GAP = 0.2e-3, 15e-3
FARTHEST_POLE = 25e-3  # from a string to the pole it belongs to


def every_pole_is_made_once(case: Case) -> None:
    count = len(case.row.places())
    made: dict[int, int] = {}
    rest = [i for i, pole in enumerate(case.pole, start=1) if pole.at is None]
    if len(rest) > 1:
        raise ValueError(
            f"pole {rest[1]}, at: it is missing, as in pole {rest[0]}; say which poles each is for"
        )
    for entry, pole in enumerate(case.pole, start=1):
        for number in pole.at or ():
            if number > count:
                raise ValueError(f"pole {entry}, at: received {number}; the row has poles 1 to {count}")
            if number in made:
                raise ValueError(
                    f"pole {entry}, at: received {number}, as pole {made[number]} does; keep it in one"
                )
            made[number] = entry
    missing = [n for n in range(1, count + 1) if n not in made]
    if missing and not rest:
        raise ValueError(f"pole: none is for number {missing[0]}; add it to an at, or leave one at out")
    if rest and not missing:
        raise ValueError(f"pole {rest[0]}, at: it is missing, but the others already make all {count} poles")


def materials_are_known(case: Case, known: Mapping[str, str] | None) -> None:
    """Names and uses of materials; `known` has the use ("magnet", "soft", "string") of each built-in name."""
    uses = dict(known or {})
    uses.update({name: USES[own.kind] for name, own in case.materials.items()})

    metals = ("string",)

    def use(where: str, name: str, wanted: tuple[str, ...], noun: str) -> str | None:
        if name not in uses:
            if known is None:
                return None
            raise ValueError(
                f"{where}: received {shown(name)}, which is no known material{near(name, uses)}; "
                "`stringflux materials` lists them, or define it under [materials]"
            )
        if wanted == metals and isinstance(case.materials.get(name), ConstantPermeability):
            return "string"  # a linear string, as reference computations use
        if uses[name] not in wanted:
            hint = ", ".join(n for n, u in uses.items() if u in wanted) or "one defined under [materials]"
            raise ValueError(f"{where}: received {shown(name)}, which is no {noun}; write one of {hint}")
        return uses[name]

    for i, pole in enumerate(case.pole, start=1):
        for j, part in enumerate(pole.part, start=1):
            where = f"pole {i}, part {j}"
            found = use(f"{where}, material", part.material, ("magnet", "soft"), "magnet or soft steel")
            if found == "magnet" and part.polarity is None:
                raise ValueError(
                    f"{where}, polarity: it is missing, but {shown(part.material)} is a magnet; "
                    'write "north up" or "south up"'
                )
            if found == "soft" and part.polarity is not None:
                raise ValueError(
                    f"{where}, polarity: received {shown(part.polarity)}, "
                    f"but {shown(part.material)} is no magnet; drop polarity, or name a magnet"
                )
            for key in ("charge", "coercivity_scale", "remanence_scale"):
                value = getattr(part, key)
                if found == "soft" and value != 1:
                    raise ValueError(
                        f"{where}, {key}: received {value:g}, "
                        f"but {shown(part.material)} is no magnet; drop {key}"
                    )
            straight = isinstance(case.materials.get(part.material), LinearMagnet)
            if straight and part.coercivity_scale != 1:
                raise ValueError(
                    f"{where}, coercivity_scale: received {part.coercivity_scale:g}, but {shown(part.material)} is "
                    "a linear magnet, which has no coercivity of its own; change its remanence or drop this"
                )
    use("strings, steel", case.strings.steel, metals, "string steel")
    use("strings, wrap", case.strings.wrap, metals, "string metal")
    for i, string in enumerate(case.string, start=1):
        use(f"string {i}, steel", string.steel or case.strings.steel, metals, "string steel")
        use(f"string {i}, wrap", string.wrap or case.strings.wrap, metals, "string metal")


def strings_are_complete(case: Case) -> None:
    """Everything a string may take from [strings] is in one place or the other."""
    common = case.strings
    placed = common.spacing is not None or len(case.string) == len(case.row.places())
    for i, string in enumerate(case.string, start=1):
        if string.scale is None and common.scale is None:
            raise ValueError(
                f'string {i}, scale: it is missing; write scale = "25.5 in" or so here or in [strings]'
            )
        if string.position is None and not placed:
            raise ValueError(
                f"string {i}, position: it is missing, and {len(case.string)} strings over "
                f"{len(case.row.places())} poles do not place themselves; "
                "write it here, or spacing in [strings]"
            )
        rules = string.rules() or common.rules()
        if not rules:
            raise ValueError(f"string {i}, gap: it is missing; write gap or height, here or in [strings]")
        if rules == ["fretted_gap"]:
            _fretted_is_complete(case, i)
        if abs(case.string_places()[i - 1]) > 150e-3:
            raise ValueError(
                f"strings, spacing: it puts string {i} over 150 mm from the middle; bring them closer"
            )
    if common.fingerboard_radius is not None:
        far = max(abs(y) for y in case.string_places())
        if far > 0.9 * common.fingerboard_radius:
            raise ValueError(
                f"strings, fingerboard_radius: received {mm(common.fingerboard_radius)}, with a string "
                f"{mm(far)} from the middle; write a larger radius"
            )


def _fretted_is_complete(case: Case, number: int) -> None:
    common = case.strings
    for key in ("last_fret", "action", "bridge_distance"):
        if getattr(common, key) is None:
            raise ValueError(
                f"strings, {key}: it is missing; string {number} is given by fretted_gap, which needs it"
            )
    scale = case.string[number - 1].scale or common.scale or 0.0
    fret = scale * 2 ** (-(common.last_fret or 1) / 12)
    if (common.bridge_distance or 0.0) > fret:
        raise ValueError(
            f"strings, bridge_distance: received {mm(common.bridge_distance or 0.0)}, but the last fret "
            f"is {mm(fret)} from the bridge; write less than that"
        )


def poles_stand_clear(poles: tuple[PlacedPole, ...]) -> None:
    for i, first in enumerate(poles):
        for j, second in enumerate(poles[i + 1 :], start=i + 1):
            apart = abs(first.y - second.y)
            for a in first.shape.parts:
                for b in second.shape.parts:
                    low = max(first.face + a.bottom, second.face + b.bottom)
                    high = min(first.face + a.top, second.face + b.top)
                    if low < high and apart < a.radius + b.radius - TOUCH:
                        raise ValueError(
                            f"row: poles {i + 1} and {j + 1} are {mm(apart)} apart and overlap; put them "
                            f"at least {mm(a.radius + b.radius)} apart or make them thinner"
                        )


def coil_clears_poles(poles: tuple[PlacedPole, ...], coil: Racetrack) -> None:
    for number, pole in enumerate(poles, start=1):
        for part in pole.shape.parts:
            if pole.face + part.bottom >= coil.top - TOUCH or pole.face + part.top <= coil.bottom + TOUCH:
                continue
            # distance of the pole's axis from the straight line in the middle of the race-track
            off = max(0.0, abs(pole.y - coil.y_centre) - coil.straight / 2)
            if off + part.radius > coil.inner_radius + TOUCH:
                raise ValueError(
                    f"coil: the winding cuts pole {number} ({shown(part.material)}, diameter "
                    f"{mm(2 * part.radius)}) or leaves it outside; enlarge inner_width or inner_length, "
                    "or move top or bottom clear of it"
                )


def strings_lie_clear(case: Case, poles: tuple[PlacedPole, ...], coil: Racetrack) -> None:
    slope = abs(math.tan(case.strings.plane_angle))
    shapes, lows = case.string_shapes(), case.undersides()
    for (i, a), (j, b) in combinations(enumerate(shapes, start=1), 2):
        if math.hypot(a.y - b.y, a.axis_height - b.axis_height) < a.outer_radius + b.outer_radius:
            raise ValueError(f"string {j}: it runs into string {i}; give them different places")
    for i, (shape, low, own) in enumerate(zip(shapes, lows, case.nearest_poles(), strict=True), start=1):
        rules = case.string[i - 1].rules() or case.strings.rules()
        where, radius = f"string {i}, {rules[0]}", shape.outer_radius
        for number, pole in enumerate(poles, start=1):
            for part in pole.shape.parts:
                across = abs(shape.y - pole.y) < part.radius + radius
                if across and low - slope * part.radius < pole.face + part.top + CLEARANCE:
                    raise ValueError(
                        f"{where}: the string's underside at {mm(low)} runs into pole {number}, which "
                        f"reaches {mm(pole.face + part.top)}; raise the string or lower the pole"
                    )
        off = max(0.0, abs(shape.y - coil.y_centre) - coil.straight / 2)
        reach = coil.inner_radius + coil.build
        if off < reach + radius and low - slope * reach < coil.top + CLEARANCE:
            raise ValueError(
                f"{where}: the string's underside at {mm(low)} runs into the coil, which reaches "
                f"{mm(coil.top)}; raise the string or lower top in [coil]"
            )
        if abs(shape.y - poles[own].y) > FARTHEST_POLE:
            raise ValueError(
                f"string {i}, position: it is {mm(abs(shape.y - poles[own].y))} from the nearest pole; "
                f"bring it within {mm(FARTHEST_POLE)}"
            )
        gap = low - poles[own].face
        if not LEAST_GAP - TOUCH <= gap <= GREATEST_GAP + TOUCH:
            raise ValueError(
                f"{where}: it leaves {mm(gap)} between the string and the face of pole {own + 1}; make that "
                f"{mm(LEAST_GAP)} to {mm(GREATEST_GAP)}"
            )
