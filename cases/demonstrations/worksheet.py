r"""A sheet of questions on a pickup, computed: the string is driven over its pole, each variant solved anew.

A variant comes from u = frac(seed φ), φ = (√5 − 1)/2: sheets with neighbouring numbers lie far apart on 0 … 1. Turns,
frequency and amplitude grow with u and the gap falls, so that every answer grows with u, and no two sheets of a class
agree in one by chance.

References
----------
Derived here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.notes import pitch_words
from stringflux.postprocess.coil.winding import RESISTIVITY
from stringflux.postprocess.demonstrations.string_shown import CANCELLED
from stringflux.postprocess.results.each import numbered
from stringflux.postprocess.worksheet.picture import SheetSection
from stringflux.postprocess.worksheet.swung import STEPS, SheetFigures

from ..jobs.loop import swung_of
from ..pickup import Pickup
from ..pickup_fields import Progress, nobody
from ..solved.solve_row import one_thread
from ..solved.unmagnetised import refuse_unmagnetised
from ..solving import solve
from .pictures import pickup_shapes
from .string import ROUND, from_round

GOLDEN = (math.sqrt(5) - 1) / 2
MOST_SEED = 9999
TURNS, FREQUENCY, AMPLITUDE, GAP = (0.5, 1.0), (0.7, 1.4), (0.5, 1.0), (1.25, 0.95)
"""Of a variant at u = 0 and 1, over those of the case: u of 30 sheets in a row lies 0.021 apart or more, and so every
answer by more than 1 %, which three digits tell."""
_USUAL, _ROOM = 0.5e-3, 0.5  # m; share of the room over the pole


@dataclass(frozen=True, kw_only=True)
class Variant:
    """Which sheet: SI."""

    turns: float
    frequency: float
    amplitude: float
    gap: float


def refuse(case: Case, string: int) -> None:
    """Refuse a case that a sheet has no meaning for; nothing is computed.

    Raises
    ------
    CaseError
    InputError
        For a string that is not there.
    """
    from stringflux.geometry.case.placed_strings import placed_strings

    refuse_unmagnetised(case, "so a string that moves changes no flux, and there is nothing to ask")
    if len(case.coils()) > 1:
        raise CaseError(f"this case has {len(case.coils())} coils, and the sheet counts the turns of one from its "
                        "resistance; take a case with one coil")
    numbered(string, placed_strings(case))


def variant(pickup: Pickup, string: int, seed: int | None) -> Variant:
    """The numbers of a sheet; those of the case itself without a seed.

    Raises
    ------
    CaseError
    """
    place = numbered(string, pickup.solved.strings)
    amplitude = min(_USUAL, _ROOM * swung_of(pickup.solved, string).reach)
    turns = pickup.case.coils()[0].turns
    if seed is None:
        return Variant(turns=turns, frequency=place.pitch, amplitude=amplitude, gap=place.gap)
    u = seed * GOLDEN % 1.0

    def of(ends: tuple[float, float], value: float, step: float) -> float:
        wanted = value * (ends[0] + (ends[1] - ends[0]) * u)
        return round(wanted / step) * step if wanted > 20 * step else wanted

    return Variant(turns=of(TURNS, turns, 1.0), frequency=of(FREQUENCY, place.pitch, 0.1),
                   amplitude=of(AMPLITUDE, amplitude, 1e-6), gap=of(GAP, place.gap, 1e-5))


def varied(case: Case, string: int, wanted: Variant) -> Case:
    """The case with the turns and the gap of a variant."""
    strings = list(case.string)
    strings[string - 1] = strings[string - 1].model_copy(
        update={"gap": wanted.gap, "height": None, "fretted_gap": None})
    coil = case.coil.model_copy(update={"turns": wanted.turns, "taps": ()})
    return case.model_copy(update={"string": tuple(strings), "coil": coil})


def worksheet_figures(pickup: Pickup, string: int = 1, seed: int | None = None,
                      progress: Progress = nobody) -> tuple[SheetFigures, SheetSection]:
    """What a sheet is made of, and its picture.

    Raises
    ------
    CaseError, InputError
        As of :func:`refuse`.
    """
    refuse(pickup.case, string)
    progress("fields", 0.1)
    wanted = variant(pickup, string, seed)
    if seed is not None:
        pickup = solve(varied(pickup.case, string, wanted), quality=pickup.quality, keep=pickup.solved.keep,
                       numerics=pickup.solved.numerics)
    solved, place = pickup.solved, numbered(string, pickup.solved.strings)
    progress("string", 0.5)
    swung = swung_of(solved, string)
    amplitude = min(wanted.amplitude, swung.reach)
    theta = 2 * np.pi * np.arange(1, ROUND + 1) / ROUND
    with one_thread():
        once_more = np.sin(np.concatenate([theta, theta]))
        linkage = swung.along(amplitude * once_more)[ROUND:]
    f = wanted.frequency
    rising = (np.arange(STEPS + 1) / (2 * STEPS) + 0.75) / f  # from lowest to highest
    at, _ = from_round(linkage, f, rising)
    round_ = np.arange(360) / (360 * f)
    emf = from_round(linkage, f, round_)[1]
    turns = abs(float(np.sum(solved.signed_turns)))
    made = pickup.winding(20.0)[0]
    flux = solved.turn_flux()
    told = flux is not None and abs(flux) > CANCELLED * float(np.max(np.abs(linkage))) / turns
    figures = SheetFigures(
        title=pickup.case.title, pitch=pitch_words(place.pitch), number=string, turns=turns,
        resistance=made.resistance_computed[1], bare=made.wire.bare, resistivity=RESISTIVITY,
        mean_turn=made.mean_turn, sense=1 if float(np.sum(solved.signed_turns)) > 0 else -1, gap=place.gap,
        frequency=f, amplitude=amplitude, magnet_flux=flux if told else None,
        place=amplitude * np.sin(2 * np.pi * f * rising), per_turn=at / turns, at_rest=float(emf[0]),
        rms=float(np.sqrt(np.mean(emf**2))))
    shape = place.shape
    u = np.array([-0.1, 0.1])
    line = np.stack([u, shape.axis_height + shape.slope * u])
    return figures, SheetSection(
        shapes=pickup_shapes(solved.case, shape.y), string=line, radius=shape.outer_radius, amplitude=amplitude,
        face=place.underside - place.gap, underside=place.underside)
