"""What can be written and cannot be meant: a decimal point for a thousands mark, a wrong prefix, a wrong octave.

The limits are far outside what is built, so that no real pickup is refused.
"""

from __future__ import annotations

import math
from itertools import pairwise
from statistics import median
from typing import TYPE_CHECKING

from ..case.coil import Coil
from ..case.placed_strings import sounding_length, string_places, unit_mass
from ..case.strings import tension
from ..case.wire import too_full
from ..errors import CaseError
from ..units import mm, show
from .check_strings import coil_words

if TYPE_CHECKING:
    from ..case.model import Case

STRONGEST = 3.5e9  # Pa: the thinnest music wire breaks at 2.9 to 3.4 GPa (ASTM A228, memory), thicker wire before
FEW_TURNS = 100  # below it a part of a turn is no slip of a hundredth
COPPER = 1 / 58e6  # Ω·m at 20 °C (IEC 60028)
RESISTANCE_OFF = 4.0  # times: other alloys and twenty years in a drawer are far less
MOST_CAPACITANCE = 5e-9  # F; windings have some 0.1 nF
WARM = 0.1
"""Heat in a winding from which on a caution is due, W: common practice, no source."""
HEAT = 3.45e6  # of copper, J/(m³·K): 385 J/(kg·K), 8960 kg/m³ (memory)
ROOM, ENAMEL = 20.0, 155.0  # °C: the thermal class of common enamels (IEC 60317-3, memory)
MOMENTS = 10.0  # s: wire that is too hot sooner is not warmed by mistake, but burnt
ASIDE = 0.35  # of the pitch of the poles: so far off all of them strings are nowhere meant to lie


def coils_make_sense(case: Case) -> None:
    """Turns, resistance and capacitance are those of a winding.

    Raises
    ------
    CaseError
        If one cannot be meant.
    """
    for where, coil in zip(_places(case), case.coils(), strict=True):
        if coil.turns < FEW_TURNS and coil.turns != round(coil.turns):
            raise CaseError(
                f"{where}, turns: received {coil.turns:g}; a coil of so few turns has whole ones, and thousands are "
                f"written without a mark: {1e3 * coil.turns:.0f}"
            )
        if coil.capacitance is not None and coil.capacitance > MOST_CAPACITANCE:
            raise CaseError(
                f"{where}, capacitance: received {show(coil.capacitance, 'capacitance')}, far more than a winding "
                "has (some 100 pF); check the unit, or give a cable's under [load]"
            )
        about = copper_resistance(coil)
        if coil.resistance is not None and not 1 / RESISTANCE_OFF < coil.resistance / about < RESISTANCE_OFF:
            raise CaseError(
                f"{where}, resistance: received {show(coil.resistance, 'resistance')}, but {coil.turns:g} turns of "
                f"{coil.wire} have about {show(about, 'resistance')}; check the unit, turns and wire"
            )


def copper_resistance(coil: Coil) -> float:
    """Resistance of turns of mean length in copper at 20 °C, Ω; for orders of magnitude."""
    return COPPER * coil.turns * coil.mean_turn / (math.pi / 4 * coil.winding_wire().bare ** 2)


def strings_hold(case: Case) -> None:
    """No core breaks under its tension, and the pickup is under the strings.

    Raises
    ------
    CaseError
        If a core breaks, or the bridge lies behind a string's end.
    """
    for i, string in enumerate(case.string, start=1):
        scale = sounding_length(case, string)
        force = tension(unit_mass(case, string), scale, string.pitch)
        stress = force / (math.pi / 4 * (string.core or string.gauge) ** 2)
        if stress > STRONGEST:
            raise CaseError(
                f"string {i}, pitch: received {string.pitch:.4g} Hz, for which a string of {mm(string.gauge)} and "
                f"{scale * 1e3:.4g} mm would be pulled with {force:.0f} N, more than steel bears; check the "
                "octave, gauge, core and scale"
            )
        away = case.strings.bridge_distance
        if away is not None and away >= scale:
            raise CaseError(
                f"strings, bridge_distance: received {mm(away)}, beyond string {i}, whose scale is {mm(scale)}; "
                "write the distance from the row of poles to the bridge"
            )


def oddities(case: Case) -> tuple[str, ...]:
    """What is possible and yet hardly meant, as sentences without a full stop."""
    return (*crowded(case), *warmed(case), *_beside(case))


def crowded(case: Case) -> tuple[str, ...]:
    """Coils with more turns than windings usually hold, as sentences without a full stop."""
    found = []
    for name, coil in zip(case.coil_names(), case.coils(), strict=True):
        wire = coil.winding_wire()
        share = coil.turns * math.pi / 4 * wire.overall[1] ** 2 / coil.wound_area
        if full := too_full(coil.turns, wire.name, share, known=coil.moves_with_turns):
            found.append(full if len(case.coils()) == 1 else f"{name}: {full}")
    return tuple(found)


def warmed(case: Case) -> tuple[str, ...]:
    """Coils that a direct current warms, with the power I² R, as sentences without a full stop.

    Copper that sheds nothing warms by ρ (I/A)²/C a second, C its heat capacity per volume.
    """
    found = []
    for name, coil in zip(case.coil_names(), case.coils(), strict=True):
        about = copper_resistance(coil) if coil.resistance is None else coil.resistance
        power = (coil.direct_current or 0.0) ** 2 * about
        if power < WARM:
            continue
        density = (coil.direct_current or 0.0) / (math.pi / 4 * coil.winding_wire().bare ** 2)
        bears = (ENAMEL - ROOM) * HEAT / (COPPER * density ** 2)
        advice = ("a winding of fine wire sheds little, so switch it on for moments only, and feel whether it warms"
                  if bears > MOMENTS else
                  f"in {bears:.1g} s its wire is hotter than enamel bears, so write less current, or thicker wire")
        found.append(f"caution, {coil_words(name)}: {show(coil.direct_current or 0.0, 'current')} through about "
                     f"{about:.3g} ohm makes {power:.2g} W of heat in it; {advice}")
    return tuple(found)


def _beside(case: Case) -> tuple[str, ...]:
    rows = case.rows()
    if len(rows) != 1 or len(rows[0].row.places()) < 2 or not case.string:
        return ()
    places = sorted(rows[0].row.places())
    pitch = median(b - a for a, b in pairwise(places))
    beside = [min(abs(y - p) for p in places) for y in string_places(case)]
    if min(beside) < ASIDE * pitch:
        return ()
    return (f"every string lies beside its pole, by {mm(min(beside))} and more; check the strings' spacing and "
            "position, and the count of the row",)


def _places(case: Case) -> list[str]:
    return ["coil", *(f"second_coil {i}, coil" for i in range(1, len(case.second_coil) + 1))]
