"""Quantities on the command line: "6.2kohm", "23degC", "100 g"."""

from __future__ import annotations

import math
import re

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import KINDS, parse, shown

_DEGREES = re.compile(r"\s*([+-]?[0-9]{1,4}(?:\.[0-9]{1,6})?)\s*(?:°|deg)?\s*([CFK])\s*")
COLDEST, HOTTEST = -50.0, 150.0  # °C; beyond, the straight line of copper's resistance and its enamel end


def read_quantity(option: str, text: str, *kinds: str) -> tuple[float, str]:
    """Value in SI and kind of a positive quantity that may be of several kinds."""
    for kind in kinds:
        try:
            value = parse(text, kind)
        except CaseError:
            continue
        if value <= 0:
            raise CaseError(f"{option}: received {shown(text)}; write a value above 0")
        return value, kind
    wanted = " or ".join(f'{KINDS[k].name} such as "{KINDS[k].example}"' for k in kinds)
    raise CaseError(f"{option}: received {shown(text)}; write {wanted}")


def read_temperature(option: str, text: str) -> float:
    """A temperature in °C.

    Examples
    --------
    >>> read_temperature("--at", "23degC"), round(read_temperature("--at", "68 °F"), 9)
    (23.0, 20.0)
    """
    match = _DEGREES.fullmatch(text.replace("−", "-"))
    if match is None:
        raise CaseError(f'{option}: received {shown(text)}; write a temperature such as "23 degC" or "73 degF"')
    number, scale = float(match[1]), match[2]
    celsius = {"C": number, "F": (number - 32) / 1.8, "K": number - 273.15}[scale]
    if not COLDEST <= celsius <= HOTTEST or not math.isfinite(celsius):
        raise CaseError(f"{option}: received {shown(text)}; write {COLDEST:g} to {HOTTEST:g} degC")
    return celsius
