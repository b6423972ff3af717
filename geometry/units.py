"""Quantities as people write them, "4.8 mm" or "3/16 in", to plain numbers in SI.

The units are a registry of our own, not the general one: G and Oe then mean what a winder means
(flux density 1e-4 T, field strength 1000/4π A/m), and it is built in a few milliseconds.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from .errors import CaseError

if TYPE_CHECKING:
    import pint


@dataclass(frozen=True, kw_only=True)
class Dimension:
    """A physical dimension: its name in a sentence, its SI unit, the units to offer, an example."""

    name: str
    si: str
    units: tuple[str, ...]
    example: str


KINDS: Mapping[str, Dimension] = MappingProxyType(
    {
        "length": Dimension(name="a length", si="m", units=("mm", "cm", "m", "um", "in", "mil"), example="4.8 mm"),
        "flux density": Dimension(name="a flux density", si="T", units=("T", "mT", "G", "kG"), example="1250 G"),
        "flux": Dimension(name="a flux", si="V*s", units=("Wb", "mWb", "uWb", "V s"), example="60 mWb"),
        "field": Dimension(
            name="a field strength", si="A/m", units=("A/m", "kA/m", "Oe", "kOe"), example="45 kA/m"
        ),
        "angle": Dimension(name="an angle", si="rad", units=("deg", "rad"), example="0.8 deg"),
        "frequency": Dimension(name="a frequency", si="Hz", units=("Hz", "kHz"), example="329.63 Hz"),
        "resistance": Dimension(name="a resistance", si="ohm", units=("ohm", "kohm", "Mohm"), example="6.2 kohm"),
        "capacitance": Dimension(name="a capacitance", si="F", units=("pF", "nF", "uF"), example="50 pF"),
        "inductance": Dimension(name="an inductance", si="H", units=("H", "mH"), example="2.8 H"),
        "resistivity": Dimension(
            name="a resistivity", si="ohm*m", units=("ohm m", "uohm cm", "uohm m"), example="47 uohm cm"
        ),
        "current": Dimension(name="a current", si="A", units=("mA", "A", "uA"), example="10 mA"),
        "voltage": Dimension(name="a voltage", si="V", units=("mV", "V", "uV"), example="35 mV"),
        "sensitivity": Dimension(
            name="a sensitivity", si="V*s/m", units=("mV s/m", "V s/m", "uV s/m"), example="9 mV s/m"
        ),
        "force": Dimension(name="a force", si="N", units=("N", "mN"), example="0.5 N"),
        "mass": Dimension(name="a mass", si="kg", units=("g", "kg", "oz", "lb"), example="100 g"),
        "capacitance of cable": Dimension(
            name="a capacitance per length", si="F/m", units=("pF/m", "nF/m", "pF/ft"), example="100 pF/m"
        ),
        "volume": Dimension(name="a volume", si="m^3", units=("mm^3", "cm^3"), example="300 mm^3"),
        "density": Dimension(name="a density", si="kg/m^3", units=("kg/m^3", "g/cm^3"), example="7.85 g/cm^3"),
        "speed": Dimension(name="a speed", si="m/s", units=("m/s", "cm/s", "mm/s"), example="0.3 m/s"),
        "temperature": Dimension(name="a temperature", si="degC", units=("degC", "degF"), example="35 degC"),
    }
)

ROUNDING = 1e-9
"""Of sums and differences of lengths as people write them, m: no limit is missed by so little."""

_DEFINITIONS = """
nano- = 1e-9 = n-
pico- = 1e-12 = p-
micro- = 1e-6 = u- = µ- = μ-
milli- = 1e-3 = m-
centi- = 1e-2 = c-
kilo- = 1e3 = k-
mega- = 1e6 = M-
metre = [length] = m = meter
second = [time] = s
gram = [mass] = g
pound = 453.59237 * gram = lb
ounce = 28.349523125 * gram = oz
ampere = [current] = A
radian = [] = rad
inch = 0.0254 * metre = in
foot = 12 * inch = ft
mil = 0.001 * inch = _ = thou
degree = 0.017453292519943295 * radian = deg
hertz = 1 / second = Hz
newton = 1000 * gram * metre / second ** 2 = N
volt = newton * metre / ampere / second = V
ohm = volt / ampere = Ω = Ω
farad = ampere * second / volt = F
henry = volt * second / ampere = H
tesla = volt * second / metre ** 2 = T
weber = volt * second = Wb
gauss = 1e-4 * tesla = G
oersted = 79.57747154594767 * ampere / metre = Oe
"""

_NUMBER = re.compile(
    r"(?P<sign>[+-]?)(?:(?:(?P<whole>[0-9]{1,6})[ -]+)?(?P<top>[0-9]{1,6})/(?P<under>[0-9]{1,6})"
    r"|(?P<plain>(?:[0-9]{1,20}(?:\.[0-9]{0,20})?|\.[0-9]{1,20})(?:[eE][+-]?[0-9]{1,3})?))"
)
_FACTOR = r"[A-Za-zµμΩΩ]{1,12}(?:\^?-?[1-3])?"
_UNIT = re.compile(rf"{_FACTOR}(?:[*/]{_FACTOR}){{0,2}}")
_DEGREES = re.compile(r"\s*([+-]?[0-9]{1,15}(?:\.[0-9]{0,15})?)\s*(?:°|deg)?\s*([CFK])\s*")


@lru_cache(maxsize=1)
def registry() -> pint.UnitRegistry[float]:
    """Our units as a pint registry, built at the first call (pint is imported only then)."""
    import pint

    units: pint.UnitRegistry[float] = pint.UnitRegistry(None)
    units.load_definitions([line for line in _DEFINITIONS.strip().splitlines()])
    return units


@lru_cache(maxsize=256)
def _factor(unit: str, si: str) -> float | None:
    """Size of `unit` in `si`; None if we have no such unit, nan if its dimension is another."""
    import pint

    try:
        wanted, found = registry().Unit(si), registry().Unit(unit)
        return float((1.0 * found).to(wanted).magnitude)
    except pint.DimensionalityError:
        return math.nan
    except (pint.PintError, ArithmeticError, ValueError, TypeError, LookupError, SyntaxError):
        return None


def shown(value: object) -> str:
    """Anything that a case file can hold, short enough for a sentence."""
    if isinstance(value, str):
        return '"' + (value if len(value) <= 40 else value[:37] + "...").translate(_ESCAPES) + '"'
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and abs(value) >= 10**15:
        return "a very large whole number"
    if isinstance(value, int | float):
        return str(value)
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    return f"a {type(value).__name__}"


TURNING = frozenset(map(chr, (*range(0x202A, 0x202F), *range(0x2066, 0x206A))))
"""Characters that turn the direction in which what follows is read."""

_ESCAPES = {code: " " for code in (*range(32), 127, *range(0x80, 0xA0), 0x2028, 0x2029, *map(ord, TURNING))}


def parse(value: object, kind: str) -> float:
    """Read a quantity such as "4.8 mm", "3/16 in" or "1 1/2 in".

    Parameters
    ----------
    value : object
        What stands in the file; only text with a number and a unit will do.
    kind : str
        A key of `KINDS`: the dimension that is needed.

    Returns
    -------
    float
        The value in the SI unit of `kind`.

    Raises
    ------
    CaseError
        Whatever the matter with `value`, as one sentence that says which units fit.

    Examples
    --------
    >>> parse("3/16 in", "length")
    0.0047625
    >>> round(parse("640 Oe", "field"))
    50930
    """
    if isinstance(value, int | float) and not isinstance(value, bool):
        raise CaseError(f"received the bare number {shown(value)}; {_wanted(kind)}")
    if not isinstance(value, str):
        raise CaseError(f"received {shown(value)}; {_wanted(kind)}")
    return _parse_text(value, kind)


def _wanted(kind: str) -> str:
    what = KINDS[kind]
    return f'write {what.name} with its unit ({", ".join(what.units)}), for example "{what.example}"'


def celsius(text: str) -> float | None:
    """A temperature in °C, of "23 degC", "73 °F" or "300 K"; None if it is none.

    Examples
    --------
    >>> celsius("23degC"), round(celsius("68 °F"), 9), celsius("23")
    (23.0, 20.0, None)
    """
    match = _DEGREES.fullmatch(text.replace("−", "-"))
    if match is None:
        return None
    number, scale = float(match[1]), match[2]
    return {"C": number, "F": (number - 32) / 1.8, "K": number - 273.15}[scale]


@lru_cache(maxsize=1024)
def _parse_text(value: str, kind: str) -> float:
    if kind == "temperature":  # its scales have zeros of their own: no factor makes one of another
        found = celsius(value)
        if found is None:
            raise CaseError(f"received {shown(value)}; {_wanted(kind)}")
        return float(f"{found:.15g}")
    got, what, wanted = shown(value), KINDS[kind], _wanted(kind)
    text = value.strip().replace("−", "-")
    number = _NUMBER.match(text)
    if number is None:
        raise CaseError(f"received {got}, which does not begin with a number; {wanted}")
    unit = _tidy_unit(text[number.end() :])
    if not unit:
        raise CaseError(f"received {got}, which has no unit; {wanted}")
    if unit[0] == ",":
        raise CaseError(f"received {got}; use a point for decimals and {wanted}")
    factor = _factor(unit, what.si) if len(unit) <= 24 and _UNIT.fullmatch(unit) else None
    if factor is None:
        raise CaseError(f"received {got}, whose unit is not known here; {wanted}")
    if math.isnan(factor):
        raise CaseError(f"received {got}, which is not {what.name}; {wanted}")
    result = _number(number) * factor
    if not math.isfinite(result):
        raise CaseError(f"received {got}, which is not a finite number; {wanted}")
    return float(f"{result:.15g}")  # 3/16 in is 0.0047625, not 0.004762499999999999


def _tidy_unit(text: str) -> str:
    text = text.strip()
    if text in ('"', "″", "''", "”"):
        return "in"
    text = re.sub(r"\s*([*/·⋅])\s*", r"\1", text.replace("**", "^").replace("°", "deg"))
    return re.sub(r"[·⋅ ]", "*", text).replace("³", "^3").replace("²", "^2")


def _number(match: re.Match[str]) -> float:
    sign = -1.0 if match["sign"] == "-" else 1.0
    if match["plain"] is not None:
        return sign * float(match["plain"])
    under = int(match["under"])
    if under == 0:
        return math.nan
    return sign * (int(match["whole"] or 0) + int(match["top"]) / under)


def show(value: float, kind: str) -> str:
    """An SI value in the unit people read for `kind`: ``show(0.0048, "length")`` is "4.8 mm"."""
    size, unit = readable(kind)
    return f"{value / size:.6g} {unit}"


def within(value: float, low: float, high: float) -> bool:
    """Whether `value` lies between two bounds; a bound as `show` prints it, to six digits, is itself within.

    Examples
    --------
    >>> within(-0.15, -0.15, 0.05), within(-0.1501, -0.15, 0.05)
    (True, False)
    """
    return low - _PRINTED * abs(low) <= value <= high + _PRINTED * abs(high)


def readable(kind: str) -> tuple[float, str]:
    """The unit people read `kind` in: its size in SI, and its name."""
    return _READABLE.get(kind, (1.0, KINDS[kind].si))


def printed_unit(unit: str) -> str:
    """A unit as what is read on paper or a screen spells it; files and options are written in plain letters.

    Examples
    --------
    >>> printed_unit("kohm"), printed_unit("mV*s/m"), printed_unit("mm")
    ('kΩ', 'mV per m/s', 'mm')
    """
    return _PRINTED_UNITS.get(unit.replace("*", " "), unit.replace("*", " "))


def mm(value: float) -> str:
    """A length in metres as text in millimetres."""
    return show(value, "length")


_PRINTED = 5e-6  # relative: half a unit of the sixth digit, at most
_PRINTED_UNITS = {
    "ohm": "Ω", "kohm": "kΩ", "Mohm": "MΩ", "uWb": "µWb", "m^2": "m²", "mm^3": "mm³", "ohm m": "Ω·m",
    "V s/m": "V per m/s", "mV s/m": "mV per m/s", "uV s/m": "µV per m/s", "degC": "°C", "deg": "°", "V s": "V·s",
}
_READABLE = {
    "length": (1e-3, "mm"),
    "field": (1e3, "kA/m"),
    "angle": (math.pi / 180, "deg"),
    "resistance": (1e3, "kohm"),
    "capacitance": (1e-12, "pF"),
    "capacitance of cable": (1e-12, "pF/m"),
}
