"""What was asked of a case by `wind --for`, and the case of the answer.

Resistance and inductance go by :mod:`.jobs.wind`, which knows how they grow with turns; a loaded peak, a level over
another case and a field over the faces are looked for by :mod:`.wanted`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.postprocess.coil.winding import Winding, turns_for_inductance, turns_for_resistance, turns_that_fit

from ...files.load import load_case
from ...jobs.wind import WoundCoils, case_of_turns, settled_turns, solved_coils
from ...kept.store import memory
from ...solved.direct_current import refuse_direct_current
from ...solved.windings import coil_windings
from .aims import FIELD, LEVEL, PEAK, Aim
from .wanted import Reached, Told, charge_reaching, charges_of, measures, turns_reaching


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What was wanted and what gives it.

    Attributes
    ----------
    kind, value, over
        As of :class:`~.aims.Aim`.
    turns : int
        That give it; those of the case where the charge does.
    fits : bool
        Whether they fit their window.
    nearest : int or None
        The turns of the answer, where those that were wanted do not fit or give no such value.
    inductance : float or None
        Of the turns of the case as it is, H; None where it was not needed.
    coil : str
        Whose turns they are, of several.
    resistance : float or None
        At the terminals with the turns of the answer, Ω.
    before, reached : float or None
        The value of the case as it is, and that of the answer.
    charge, charge_before : float or None
        What part of their full charge the most charged magnets have, where a field was wanted.
    faces : tuple of float
        B over every face at the probe's height, T, where a field was wanted.
    """

    kind: str
    value: float
    turns: int
    fits: bool
    over: str = ""
    nearest: int | None = None
    inductance: float | None = None
    coil: str = ""
    resistance: float | None = None
    before: float | None = None
    reached: float | None = None
    charge: float | None = None
    charge_before: float | None = None
    faces: tuple[float, ...] = ()


def answered(case: Case, windings: Sequence[Winding], asked: Aim, coil: str | None,
             told: Told = lambda stage, share: None) -> tuple[Wanted, Case]:
    """What gives the wanted value, and the case with it, or with the nearest that can be.

    Parameters
    ----------
    coil : str, optional
        The coil whose turns may change, of several.

    Raises
    ------
    CaseError
        Where nothing of that kind can be had.
    """
    refuse_direct_current(case, "wind --for")
    if asked.kind == FIELD:
        return _by_charge(case, charge_reaching(case, asked.value, told=told), asked)
    coils = WoundCoils(case=case, windings=tuple(windings))
    at = coils.coil(coil)
    if asked.kind in (PEAK, LEVEL):
        return _by_search(coils, asked, at, told)
    return _by_law(coils, asked, at, told)


def _by_charge(case: Case, found: Reached, asked: Aim) -> tuple[Wanted, Case]:
    turns = round(case.coil.turns)
    return Wanted(kind=asked.kind, value=asked.value, turns=turns, fits=True, nearest=None if found.near else turns,
                  before=found.before, reached=found.value, charge=found.at,
                  charge_before=max(charges_of(case).values()), faces=found.faces), found.case


def _by_search(coils: WoundCoils, asked: Aim, at: int, told: Told) -> tuple[Wanted, Case]:
    case, value = coils.case, asked.value
    if asked.kind == LEVEL:
        told(f"level of {asked.over}", 0.1)
        other = measures(LEVEL, memory())(load_case(asked.over)) or 0.0
        if other == 0.0:
            raise CaseError(f"--for: {asked.over} has no voltage to compare with; name a case with a charged magnet")
        value = other * 10 ** (asked.value / 20)
    found = turns_reaching(case, asked.kind, value, at, told=told)

    def shown(volts: float | None) -> float | None:
        if asked.kind == PEAK or volts is None:
            return volts
        return float(20 * np.log10(volts / other))

    turns = int(found.at)
    name = case.coil_names()[at] if len(case.coils()) > 1 else ""
    return Wanted(kind=asked.kind, value=asked.value, over=asked.over, turns=turns, fits=found.near,
                  nearest=None if found.near else turns, coil=name, resistance=coils.resistance(at, turns),
                  before=shown(found.before), reached=shown(found.value)), found.case


def _by_law(coils: WoundCoils, asked: Aim, at: int, told: Told) -> tuple[Wanted, Case]:
    case, made, several = coils.case, coils.windings[at], len(coils.case.coils()) > 1
    inductance, law = None, not several and not case.coil.moves_with_turns
    if asked.kind == "resistance":
        turns = turns_for_resistance(made, asked.value) if law else coils.turns_for(asked.kind, asked.value, at)
        before: float = coils.resistance(at, made.turns)
    else:
        def stage(text: str) -> None:
            told(text, 0.5)

        coils = solved_coils(case, coils.windings, "normal", stage)
        inductance = before = coils.inductance_with(at, made.turns)
        turns = (turns_for_inductance(made.turns, inductance, asked.value) if law
                 else settled_turns(coils, asked.value, at, "normal", stage))
    whole = max(round(turns), 1)
    fits = whole <= turns_that_fit(made)
    wound = whole if fits else max(min(made.packings[0].most_turns, turns_that_fit(made)), 1)
    wanted = Wanted(kind=asked.kind, value=asked.value, turns=whole, fits=fits, nearest=None if fits else wound,
                    inductance=inductance, coil=case.coil_names()[at] if several else "",
                    resistance=coils.resistance(at, wound), before=before)
    answer = case_of_turns(case, at, wound)
    if asked.kind == "resistance":
        return replace(wanted, reached=wanted.resistance), answer
    if not fits and case.coils()[at].moves_with_turns:
        coils = solved_coils(answer, coil_windings(answer, made.temperature), "normal", stage)
    return replace(wanted, reached=coils.inductance_with(at, wound)), answer
