r"""What readings in volts and webers need of a case: e of driven strings, doubts of S, the magnets' flux.

e is −dλ/dt of the string's loop with its metal's memory, by the Fourier series of λ at :data:`ROUND` places of a time
round, as `demonstrate string` has it; half of what lies between its peaks, and its rms.

References
----------
Derived here.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.postprocess.readings.driven import LAW, OWN_SENSITIVITY, LawModel
from stringflux.postprocess.readings.parameters import ReadModel
from stringflux.postprocess.readings.reading import EMF, Reading
from stringflux.postprocess.string.loop import SwungString
from stringflux.solver.stages import Keep

from ..jobs.loop import swung_of
from ..jobs.prediction import prediction_of
from ..solved.abstract import SolvedCase
from ..solved.numerics import Numerics
from ..solved.solve import solved_case
from ..solved.solve_row import one_thread

ROUND, HARMONICS, FINE = 64, 20, 720
_WIDE = math.sqrt(3)  # half-width of a range over its standard deviation


def refuse_law(case: Case, readings: Sequence[Reading], fit: Sequence[str]) -> None:
    """Refuse readings in volts and webers that a case cannot be held against; nothing is computed.

    Raises
    ------
    CaseError
    """
    steps = [r for r in readings if r.quantity == "flux step"]
    if not steps:
        return
    line = steps[0].line
    if not case.is_plain_row:
        raise CaseError(f"line {line}: a flux step is the magnets' flux through one coil round a row of poles, "
                        "and this case is another build; leave this reading out")
    if any(name.split("-")[0] in ("coercivity", "charge", "all") for name in fit):
        raise CaseError(f"line {line}: a flux step does not go with --fit of coercivity, charge or all, for the flux "
                        "of other magnets through the coil is not computed; leave this reading out, or fit something "
                        "else")


def law_model(case: Case, readings: Sequence[Reading], model: ReadModel, quality: str, keep: Keep, numerics: Numerics,
              progress: Callable[[str, float], None]) -> ReadModel:
    """The model with what volts and webers need; itself where none were read.

    Raises
    ------
    CaseError
        For an amplitude that there is no room for.
    """
    if not any(r.quantity in LAW for r in readings):
        return model
    progress("driven strings", 0.4)
    volts: dict[int, float] = {}
    for r in readings:
        if r.quantity in EMF:
            volts[r.line] = _volts(r, _swung(case, r, quality, keep, numerics))
    solved = solved_case(case, quality, keep=keep, numerics=numerics)
    flux = solved.turn_flux() if any(r.quantity == "flux step" for r in readings) else None
    doubt: dict[int, float] = {}
    if volts:
        progress("doubt about S", 0.5)
        doubt = _doubts(solved, sorted({r.string or 1 for r in readings if r.quantity in EMF}))
    return LawModel(model, volts, flux, doubt)


def _swung(case: Case, r: Reading, quality: str, keep: Keep, numerics: Numerics) -> SwungString:
    """The string at the gap that was read."""
    number = r.string or 1
    strings = list(case.string)
    strings[number - 1] = strings[number - 1].model_copy(update={"gap": r.gap, "height": None, "fretted_gap": None})
    there = case.model_copy(update={"string": tuple(strings)})
    swung = swung_of(solved_case(there, quality, keep=keep, numerics=numerics), number)
    if (r.amplitude or 0.0) > swung.reach * (1 + 1e-9):
        raise CaseError(f'line {r.line}, column "amplitude": received {1e3 * (r.amplitude or 0.0):g} mm; over that '
                        f"pole swings up to {1e3 * swung.reach:.2g} mm are computed, so leave this reading out")
    return swung


def _volts(r: Reading, swung: SwungString) -> float:
    """Half from peak to peak, or rms, of a string that is driven as a sine, V."""
    theta = 2 * np.pi * np.arange(2 * ROUND) / ROUND
    with one_thread():
        linkage = swung.along((r.amplitude or 0.0) * np.sin(theta + 2 * np.pi / ROUND))[ROUND:]
    n = np.arange(HARMONICS + 1)
    slope = 2j * np.pi * (r.frequency or 0.0) * n * np.fft.rfft(linkage)[: HARMONICS + 1] * 2 / ROUND
    if r.quantity == "emf rms":
        return float(np.sqrt(np.sum(np.abs(slope) ** 2) / 2))
    e = -np.real(np.exp(2j * np.pi * np.multiply.outer(np.arange(FINE) / FINE, n)) @ slope)
    return float(np.ptp(e)) / 2


def _doubts(solved: SolvedCase, numbers: Sequence[int]) -> dict[int, float]:
    """One σ of S over S: its range, what a signal meets, and the method's own."""
    strings = prediction_of(solved, maps=False).strings
    at = np.array([[0.0, s.y, s.shape.axis_height] for s in solved.strings]).T
    b = np.abs(solved.solution().field.reciprocal(at)[2])
    ends = [np.abs(end.field.reciprocal(at)[2]) for end in solved.signal_ends()]
    out = {}
    for number in numbers:
        s = strings[number - 1]
        low, high = s.sensitivity_band
        shares = [1.0, *(float(end[number - 1] / b[number - 1]) for end in ends)]
        out[number] = math.hypot((high - low) / (2 * _WIDE * s.sensitivity),
                                 (max(shares) - min(shares)) / (2 * _WIDE), OWN_SENSITIVITY)
    return out
