r"""The demonstration "three coils": one coil without a core, with one of steel, with the case's magnets.

What the string adds to L is its own answer to the coil, by reciprocity::

    ΔL = ∫ m·b dV,   m = χ_rev h about the string's state at rest, b and h of 1 A in the coil

with the field of the string's own charges and the poles' answer to them (:meth:`.StringSetting.near`), and S is what
:func:`.heard_slopes` makes of the same string.

References
----------
Derived here.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.notes import pitch_words
from stringflux.postprocess.demonstrations.coils import OneCoil, ThreeCoils
from stringflux.postprocess.demonstrations.record import Demonstration
from stringflux.postprocess.demonstrations.three_coils_shown import CoilPicture, three_coils_shown
from stringflux.postprocess.results.each import numbered
from stringflux.postprocess.string.heard import heard_model, heard_slopes
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.loop import SwungString
from stringflux.postprocess.string.model import StringModel
from stringflux.solver.coil.air import inductance

from ..files.load import refuse_builds
from ..jobs.loop import swung_of
from ..pickup import Pickup
from ..pickup_fields import Progress, nobody
from ..solved.solve_row import one_thread
from .pictures import pickup_shapes
from .settings import LessonSettings
from .string import ROUND, amplitude_of, from_round, pictures, two_periods

CORE = "steel-1008"
"""Of the steel core."""
CHARGES = (0.25, 0.5)
"""Of the full charge, at which S is told as well."""


def demonstrate(pickup: Pickup, asked: LessonSettings, progress: Progress = nobody) -> Demonstration:
    """One coil bare, with a steel core, with the magnets.

    Raises
    ------
    InputError
        For a string that is not there.
    CaseError
        Without a magnet, for more than one row of poles in one coil, or for an amplitude that there is no room for.
    """
    found, swung = three_coils(pickup, asked, progress)
    progress("pictures", 0.6)
    place = pickup.solved.strings[found.number - 1]
    seen = pictures(pickup, found.number, found.amplitude, swung, own=False)
    y = pickup.case.placed_poles()[place.pole - 1].y
    shapes = [pickup_shapes(case, y) for case in (bare(pickup).case, with_core(pickup).case)]
    return three_coils_shown(found, CoilPicture(pictures=seen, bare=shapes[0], core=shapes[1]))


def three_coils(pickup: Pickup, asked: LessonSettings,
                progress: Progress = nobody) -> tuple[ThreeCoils, SwungString]:
    """What the three coils are and do, and the string over the magnet."""
    refuse_builds(pickup.case, "the demonstration three-coils",
                  "take one like bench-single or baritone-six, or `stringflux demonstrate hum`, which takes any")
    solved = pickup.solved
    place = numbered(asked.string, solved.strings)
    progress("fields", 0.1)
    swung = swung_of(solved, asked.string)
    amplitude, frequency = amplitude_of(asked, swung), asked.frequency or place.pitch
    time = two_periods(frequency)
    theta = 2 * np.pi * np.arange(1, 2 * ROUND + 1) / ROUND
    progress("string", 0.2)
    with one_thread():
        linkage, emf = from_round(swung.along(amplitude * np.sin(theta))[ROUND:], frequency, time)
    turns, sense = abs(float(solved.signed_turns[0])), int(np.sign(solved.signed_turns[0]))
    still = np.zeros(time.size)
    coils = []
    for name, one, share in (("bare", bare(pickup), 0.3), ("steel core", with_core(pickup), 0.4),
                             ("magnet", pickup, 0.5)):
        progress(name, share)
        hears = one is pickup
        coils.append(one_coil(name, one, asked.string, sense, linkage if hears else still, emf if hears else still))
    weaker = tuple(with_charge(pickup, share).loop(asked.string).sensitivity for share in CHARGES)
    field = pickup.field((0.0, place.y, place.shape.axis_height)).size
    found = ThreeCoils(
        title=solved.case.title, number=asked.string, strings=len(solved.strings), pitch=pitch_words(place.pitch),
        gap=place.gap, turns=turns, sense=sense, frequency=frequency, amplitude=amplitude, time=time,
        place=amplitude * np.sin(2 * np.pi * frequency * time), bare=coils[0], core=coils[1], magnet=coils[2],
        inductance_air=inductance(solved.case.racetrack()), bias=float(np.ravel(field)[0]),
        charge=np.array([0.0, *CHARGES, 1.0]),
        charged=np.array([0.0, *weaker, pickup.loop(asked.string).sensitivity]))
    return found, swung


def one_coil(name: str, pickup: Pickup, string: int, sense: int, linkage: Array, emf: Array) -> OneCoil:
    """One of the three; λ and e (n,) are those of its moving string, Wb and V."""
    solved = pickup.solved
    place = numbered(string, solved.strings)
    field = solved.among(solved.solution().field).over(string)
    shape, layers = place.shape, layers_of(place.shape, solved.materials)
    numerics = solved.numerics.string
    with one_thread():
        slopes = heard_slopes(field, shape, layers, numerics)
        model = heard_model(field, shape, layers, numerics)
        rest, added = at_rest(model)
    turns = abs(float(solved.signed_turns[0]))
    flux = solved.turn_flux() if solved.case.is_magnetised else 0.0
    return OneCoil(
        name=name, core=", ".join(dict.fromkeys(p.material for pole in solved.case.pole for p in pole.part)),
        inductance=solved.inductance(), string_inductance=added, magnet_flux=sense * (flux or 0.0),
        string_flux=rest / turns, sensitivity=abs(slopes.z) if slopes.heard else 0.0,
        per_turn=linkage / turns, emf=emf)


def at_rest(model: StringModel) -> tuple[float, float]:
    """λ of a string at rest, Wb, and what it adds to L, H."""
    shape = model.shape
    setting = model.setting(np.array([shape.y]), np.array([shape.axis_height]))
    rest = setting.static()
    still, driven = (float(setting.near(rest, current=current).linkage[0]) for current in (0.0, 1.0))
    return float(rest.linkage[0]), driven - still


def bare(pickup: Pickup) -> Pickup:
    """The coil with nothing in it."""
    return _of_material(pickup, "air")


def with_core(pickup: Pickup) -> Pickup:
    """The coil round poles of the same shape, all of steel."""
    return _of_material(pickup, CORE)


def with_charge(pickup: Pickup, share: float) -> Pickup:
    """The pickup with its magnets charged to a share of what they are."""
    return pickup.with_({f"pole.{i}.part.{j}.charge": share * part.charge
                         for i, pole in enumerate(pickup.case.pole, 1) for j, part in enumerate(pole.part, 1)
                         if part.polarity is not None})


def _of_material(pickup: Pickup, material: str) -> Pickup:
    return pickup.with_({"pole": _poles(pickup.case, material)})


def _poles(case: Case, material: str) -> list[dict[str, Any]]:
    """The poles as a case file writes them, lengths in m."""
    magnet = {"material", "polarity", "charge", "coercivity_scale", "remanence_scale", "thread"}
    return [{**pole.model_dump(include={"at"}, exclude_none=True),
             "part": [{"material": material, **part.model_dump(exclude=magnet)} for part in pole.part]}
            for pole in case.pole]
