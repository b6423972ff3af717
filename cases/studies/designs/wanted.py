"""One number of a case changed until a figure comes to what is wanted: turns of a coil, or the charge of all magnets.

With n the turns or the charge and y(n) the figure, over logarithms::

    ln y = ln y₀ + s (ln n − ln n₀),        n ← n₀ exp(ln(wanted/y₀)/s)

s is what it is usually (L as N², a peak under cable as 1/N, voltage as N, field as the charge) and from the second
solution on that of the last two. Where the limits of n come first, the nearest that can be is what is left there.

References
----------
The method of secants: derived here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.read import changed_case
from stringflux.postprocess.coil.winding import turns_that_fit
from stringflux.solver.stages import Keep

from ...files.load import built_in_uses
from ...jobs.wind import case_of_turns, case_wound_on
from ...kept.store import memory
from ...solved.solve import solved_case
from ...solved.windings import coil_windings
from .aims import FIELD, INDUCTANCE, LEVEL, PEAK, RESISTANCE
from .design import Design

TRIES, CLOSE, STAYS = 14, 2e-4, 2e-5
"""How often at most, how near to what is wanted in ln y, and in ln n what is no step any more."""
LEAST_SHARE = 0.02
"""Of the turns that fit, as few are tried; and of a full charge."""
_SLOPE = {PEAK: -1.0, LEVEL: 1.0, FIELD: 1.0, RESISTANCE: 1.0, INDUCTANCE: 2.0}
_STARTS = (0.6, 1.0, 0.3, 0.1)
"""Of the most turns: where a search that knows nothing begins, the next where the one before has no such figure."""
Told = Callable[[str, float], None]
Measure = Callable[[Case], float | None]


@dataclass(frozen=True, kw_only=True)
class Reached:
    """What was found.

    Attributes
    ----------
    case : Case
        The case of the answer.
    at : float
        Turns, a whole number, or the part of the charge that the magnets have, the most charged one's.
    value, before : float or None
        Of the figure there, and of the case as it was; None where it has none.
    near : bool
        Whether that is what was wanted; else it is the nearest that can be.
    faces : tuple of float
        B over every face, T, where a field was wanted.
    """

    case: Case
    at: float
    value: float | None
    before: float | None
    near: bool
    faces: tuple[float, ...] = ()


def measures(kind: str, keep: Keep, quality: str = "normal") -> Measure:
    """The figure of that kind: loaded peak in Hz, rms output of the strings in V, field over the faces in T, at the
    terminals resistance in Ω or inductance in H."""

    def measured(case: Case) -> float | None:
        design = Design(solved_case(case, quality, keep=keep))
        if kind == RESISTANCE:
            return design.solved.resistance()
        if kind == INDUCTANCE:
            return design.solved.inductance()
        if kind == PEAK:
            return design.loaded().resonance
        if kind == LEVEL:
            return float(np.mean(design.outputs())) or None
        return float(np.mean(np.abs(design.solved.face_field()))) or None

    return measured


def turns_reaching(case: Case, kind: str, wanted: float, at: int, *, quality: str = "normal",
                   told: Told = lambda stage, share: None) -> Reached:
    """Turns of coil `at` for a loaded peak in Hz, or an output in V.

    Raises
    ------
    CaseError
        Where the case has no such figure.
    """
    measure, track = measures(kind, memory(), quality), case.coils()[at]
    windings = coil_windings(case)
    most = turns_that_fit(windings[at])
    usual = min(windings[at].packings[0].most_turns, most)

    def of(turns: float) -> float | None:
        told(f"{turns:.0f} turns", 0.5)
        return measure(case_of_turns(case, at, turns))

    before = of(track.turns)
    if before is None:
        what = "no peak over low frequencies" if kind == PEAK else "no voltage"
        raise CaseError(f"--for: the case as it stands has {what}, from which turns could be looked for")
    n, value = searched(of, wanted, (track.turns, before), LEAST_SHARE * most, most, _SLOPE[kind])
    near = abs(np.log(value / wanted)) < _near(n)
    if not near and n > usual:  # at the densest packing, which no winding reaches
        n = float(usual)
    turns = max(round(n), 1)
    return Reached(case=case_of_turns(case, at, turns), at=turns, value=of(turns), before=before, near=near)


def wound_to(case: Case, kind: str, wanted: float, *, keep: Keep | None = None, quality: str = "normal") -> Case:
    """The case with all its coils wound on or not so far, in proportion, until a figure comes to what is wanted.

    Where turns do not reach it, the nearest that their windows hold, as full as the case says or scattered windings
    usually are.

    Parameters
    ----------
    kind : str
        As of :func:`measures`.
    """
    measure = measures(kind, memory() if keep is None else keep, quality)
    most = min(made.packings[0].most_turns / made.turns for made in coil_windings(case))
    first = case.coils()[0].turns

    def of(share: float) -> float | None:
        return measure(case_wound_on(case, share))

    begin, value = next(((share * most, y) for share in _STARTS if (y := of(share * most))), (most, None))
    if value is None:
        return case_wound_on(case, most, whole=True)
    at, _ = searched(of, wanted, (begin, value), LEAST_SHARE * most, most, _SLOPE[kind])
    # rounded up, the last turn might be one too many
    return case_wound_on(case, min(at, np.floor(most * first) / first), whole=True)


def charge_reaching(case: Case, wanted: float, *, quality: str = "normal",
                    told: Told = lambda stage, share: None) -> Reached:
    """The charge of all magnets, in proportion, for the mean field over the faces in T.

    Raises
    ------
    CaseError
        Where the case has no charged magnet or no pole.
    """
    charges = charges_of(case)
    if not charges or max(charges.values()) == 0.0 or not case.rows():
        raise CaseError("--for: a field wants a row of poles and a magnet with a charge, and this case has none; "
                        "give it a charge above 0")
    keep, full = memory(), max(charges.values())
    measure = measures(FIELD, keep, quality)

    def made(charge: float) -> Case:
        changes: dict[str, Any] = {path: own * charge / full for path, own in charges.items()}
        return changed_case(case, changes, materials=built_in_uses())

    def of(charge: float) -> float | None:
        told(f"charge {charge:.3f}", 0.5)
        return measure(made(charge))

    before = of(full)
    if before is None:
        raise CaseError("--for: nothing is over the faces of this case, from which a charge could be looked for")
    charge, value = searched(of, wanted, (full, before), LEAST_SHARE, 1.0, _SLOPE[FIELD])
    found = made(charge)
    faces = Design(solved_case(found, quality, keep=keep)).solved.face_field()
    return Reached(case=found, at=charge, value=value, before=before,
                   near=abs(np.log(value / wanted)) < 10 * CLOSE, faces=tuple(float(b) for b in faces))


def charges_of(case: Case) -> dict[str, float]:
    """The charge of every magnet by its dotted path."""
    found = {}
    rows = [("", case.pole), *((f"second_coil.{i}.", p.pole) for i, p in enumerate(case.second_coil, start=1))]
    for head, poles in rows:
        for i, pole in enumerate(poles, start=1):
            for j, part in enumerate(pole.part, start=1):
                if part.polarity is not None:
                    found[f"{head}pole.{i}.part.{j}.charge"] = part.charge
    for i, body in enumerate(case.body, start=1):
        if body.magnetised is not None:
            found[f"body.{i}.charge"] = body.charge
    return found


def searched(of: Callable[[float], float | None], wanted: float, known: tuple[float, float], low: float, high: float,
             slope: float) -> tuple[float, float]:
    """n between `low` and `high` and y there, nearest to what is wanted.

    Parameters
    ----------
    of : callable
        y of n; None where it has none, from which the search comes halfway back.
    known : (float, float)
        n and y to begin with.
    slope : float
        d ln y / d ln n as it usually is.

    Examples
    --------
    >>> n, y = searched(lambda n: 3 * n**2, 12.0, (1.0, 3.0), 0.1, 10.0, 1.0)
    >>> round(n, 3), round(y, 2)
    (2.0, 12.0)
    """
    ends = np.log(low), np.log(high)
    seen = [(float(np.log(known[0])), float(np.log(known[1] / wanted)))]
    for _ in range(TRIES):
        x, y = seen[-1]
        if abs(y) < CLOSE:
            break
        if len(seen) > 1 and x != seen[-2][0]:
            found = (y - seen[-2][1]) / (x - seen[-2][0])
            slope = float(np.clip(found / slope, 0.3, 3.0)) * slope
        to = float(np.clip(x - y / slope, *ends))
        value = of(float(np.exp(to)))
        while value is None and abs(to - x) > STAYS:
            to = (to + x) / 2
            value = of(float(np.exp(to)))
        if value is None or abs(to - x) <= STAYS:
            break
        seen.append((to, float(np.log(value / wanted))))
    x, y = min(seen, key=lambda one: abs(one[1]))
    return float(np.exp(x)), float(wanted * np.exp(y))


def _near(turns: float) -> float:
    """In ln y: a turn more or less."""
    return max(10 * CLOSE, 1.0 / turns)
