"""Quantities on the command line: "6.2kohm", "23degC", "100 g", and a pluck of several."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

from stringflux.geometry.case.conditions import COLDEST, HOTTEST
from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import KINDS, celsius, parse, shown, within

if TYPE_CHECKING:
    from stringflux.postprocess.plucked.modes import Pluck
    from stringflux.postprocess.plucked.sine import Sine



def read_quantity(option: str, text: str, *kinds: str, also: str = "") -> tuple[float, str]:
    """Value in SI and kind of a positive quantity that may be of several kinds; `also`: what else would do."""
    for kind in kinds:
        try:
            value = parse(text, kind)
        except CaseError:
            continue
        if value <= 0:
            raise CaseError(f"{option}: received {shown(text)}; write a value above 0")
        return value, kind
    wanted = " or ".join([*(f'{KINDS[k].name} such as "{KINDS[k].example}"' for k in kinds), *filter(None, [also])])
    raise CaseError(f"{option}: received {shown(text)}; write {wanted}")


def read_temperature(option: str, text: str) -> float:
    """A temperature in °C.

    Examples
    --------
    >>> read_temperature("--at", "23degC"), round(read_temperature("--at", "68 °F"), 9)
    (23.0, 20.0)
    """
    found = celsius(text)
    if found is None:
        raise CaseError(f'{option}: received {shown(text)}; write a temperature such as "23 degC" or "73 degF"')
    if not COLDEST <= found <= HOTTEST:
        raise CaseError(f"{option}: received {shown(text)}; write {COLDEST:g} to {HOTTEST:g} degC")
    return found


def read_pluck(pluck: str | None, force: str | None, at: str, angle: str) -> Pluck:
    """The pluck that the options describe."""
    from stringflux.postprocess.plucked.modes import Pluck

    if pluck is not None and force is not None:
        raise CaseError("--force: received together with --pluck; keep one of them")
    displacement = newtons = None
    if force is not None:
        newtons = _within("--force", force, read_quantity("--force", force, "force")[0], 1e-3, 20.0, "1 mN to 20 N")
    else:
        text = pluck or "1 mm"
        displacement = _within("--pluck", text, read_quantity("--pluck", text, "length")[0], 1e-6, 20e-3,
                               "1 um to 20 mm")
    return Pluck(displacement=displacement, force=newtons, at=_part(at), angle=_angle(angle))


def read_sine(amplitude: str | None, frequency: str | None, angle: str) -> Sine:
    """The sine that the options describe."""
    from stringflux.postprocess.plucked.sine import Sine

    text = amplitude or "0.5 mm"
    length = _within("--amplitude", text, read_quantity("--amplitude", text, "length")[0], 1e-6, 20e-3,
                     "1 um to 20 mm")
    hertz = None
    if frequency is not None:
        hertz = _within("--frequency", frequency, read_quantity("--frequency", frequency, "frequency")[0], 1.0, 5e3,
                        "1 Hz to 5 kHz")
    return Sine(amplitude=length, frequency=hertz, angle=_angle(angle))


def _angle(text: str) -> float:
    try:
        return parse(text, "angle")
    except CaseError as error:
        raise CaseError(f"--angle: {error}") from None


def _within(option: str, text: str, value: float, low: float, high: float, words: str) -> float:
    if not within(value, low, high):
        raise CaseError(f"{option}: received {shown(text)}; write {words}")
    return value


def _part(text: str) -> float:
    """1/8 or 0.125, between 1/100 and 99/100."""
    match = re.fullmatch(r"\s*([0-9]{1,4}(?:\.[0-9]{1,6})?|\.[0-9]{1,6})(?:\s*/\s*([0-9]{1,4}))?\s*", text)
    value = math.nan
    if match is not None and (match[2] is None or int(match[2]) > 0):
        value = float(match[1]) / int(match[2] or 1)
    if not within(value, 0.01, 0.99):
        raise CaseError(
            f"--at: received {shown(text)}; write the place from the bridge as a part of the string, for example "
            "1/8, between 1/100 and 99/100"
        )
    return value
