"""The next pickup relative to one already measured: calibrate once, then the next one in dB.

    level of B over A = 20 log₁₀ S_B/S_A        voltage of B = (reading of A at gap g) · S_B/S_A(g)

What the two share, the strings' steel and the drive, cancels. The band takes the same end of the steel's models
for both. Strings are matched by their numbers.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.case.model import Case
from stringflux.postprocess.readings.reading import Reading

from ..jobs.prediction import prediction_of
from ..kept.store import memory
from ..solved.numerics import SHIPPED, Numerics
from ..solved.solve import solved_case
from ..solved.unmagnetised import refuse_unmagnetised
from .study import bench_model

Stage = Callable[[str, float], None]


@dataclass(frozen=True, kw_only=True)
class RelativeString:
    """One string over the next pickup.

    Attributes
    ----------
    number : int
    measured, predicted : float
        S of the measured pickup and of the next one, each at its case's gap, V·s/m.
    level : float
        The next one over the measured one, dB; nan, as its band, for a string that one of them does not hear.
    band : (float, float)
        The same over the models of the strings' steel, dB.
    voltage, uncertainty : float or None
        What the next one will give, V, at its gap and at the drive of the readings; None without a reading in volts.
    """

    number: int
    measured: float
    predicted: float
    level: float
    band: tuple[float, float]
    voltage: float | None = None
    uncertainty: float | None = None


def relative_strings(measured: Case, readings: Sequence[Reading], following: Case, *, quality: str = "normal",
                     progress: Stage = lambda stage, share: None,
                     numerics: Numerics = SHIPPED) -> tuple[RelativeString, ...]:
    """Compare string by string.

    Parameters
    ----------
    measured, following : Case
        The pickup that the readings belong to, and the next one.
    readings : sequence of Reading
        Of the measured one; its outputs in volts calibrate.
    numerics : Numerics
    """
    for case in (measured, following):
        refuse_unmagnetised(case, "so it has no output that could be relative to another's")
    volts = [r for r in readings if r.quantity == "output" and r.absolute]
    at_readings, keep = np.zeros(0), memory()
    if volts:
        model = bench_model(measured, volts, quality, lambda stage, share: progress(stage, share * 0.3), keep,
                            numerics)
        at_readings = model.predict(volts, {})
    a, b = (prediction_of(solved_case(case, quality, keep=keep, numerics=numerics), maps=False,
                          progress=lambda stage, share: progress(stage, 0.6)).strings
            for case in (measured, following))
    out = []
    for old, new in zip(a, b, strict=False):
        if not (old.heard and new.heard):
            out.append(RelativeString(number=old.number, measured=old.sensitivity, predicted=new.sensitivity,
                                      level=math.nan, band=(math.nan, math.nan)))
            continue
        ends = [_decibel(new.sensitivity_band[i] / old.sensitivity_band[i]) for i in (0, 1)]
        level = _decibel(new.sensitivity / old.sensitivity)
        voltage, doubt = None, None
        mine = [i for i, r in enumerate(volts) if r.string == old.number]
        if mine:
            # each reading of A says how much its drive gives per S; B's voltage is S_B times the mean of that
            weight = np.array([volts[i].uncertainty ** -2 for i in mine])
            gain = float(weight @ [volts[i].value - at_readings[i] for i in mine] / weight.sum())
            voltage = float(10 ** (gain / 20)) * new.sensitivity
            half = max(abs(e - level) for e in ends)
            doubt = voltage * math.log(10) / 20 * math.hypot(float(weight.sum() ** -0.5), half)
        out.append(RelativeString(number=old.number, measured=old.sensitivity, predicted=new.sensitivity, level=level,
                                  band=(min(*ends, level), max(*ends, level)), voltage=voltage, uncertainty=doubt))
    progress("", 1.0)
    return tuple(out)


def _decibel(ratio: float) -> float:
    return 20 * math.log10(ratio)
