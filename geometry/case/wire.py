"""Winding wire: bare and overall diameters.

American sizes: bare d = 0.127 mm · 92^((36−n)/39) (ASTM B258); overall with insulation from NEMA MW 1000,
single and heavy build. Metric sizes: overall of grade 1 from IEC 60317-0-1. The overall figures were read
in an open data set of the standards' tables. Metres throughout.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from ..errors import CaseError
from ..units import mm, parse, shown, within


@dataclass(frozen=True, kw_only=True)
class Wire:
    """A winding wire.

    Attributes
    ----------
    name : str
        As written, "42 AWG" or "0.063 mm".
    bare : float
        Diameter of the copper, m.
    overall : tuple of float
        Least, nominal and greatest diameter with insulation, m.
    source : str
        Where the overall diameters come from.
    """

    name: str
    bare: float
    overall: tuple[float, float, float]
    source: str


# Millimetres, least / nominal / greatest.
_NEMA: Mapping[str, Mapping[int, tuple[float, float, float]]] = MappingProxyType(
    {
        "single": {
            40: (0.081, 0.088, 0.094),
            41: (0.074, 0.079, 0.084),
            42: (0.066, 0.071, 0.076),
            43: (0.058, 0.062, 0.066),
            44: (0.053, 0.057, 0.061),
            45: (0.0455, 0.0488, 0.0521),
        },
        "heavy": {
            40: (0.091, 0.097, 0.102),
            41: (0.081, 0.086, 0.091),
            42: (0.071, 0.076, 0.081),
            43: (0.064, 0.069, 0.074),
            44: (0.058, 0.064, 0.069),
            45: (0.0505, 0.0545, 0.0584),
        },
    }
)

# Millimetres: bare, then least and greatest overall.
_IEC_GRADE_1 = (
    (0.040, 0.044, 0.049),
    (0.050, 0.055, 0.060),
    (0.056, 0.062, 0.067),
    (0.060, 0.066, 0.072),
    (0.063, 0.069, 0.076),
    (0.071, 0.078, 0.084),
    (0.080, 0.087, 0.094),
)

INSULATIONS = ("single", "heavy", "grade 1")
_AWG = re.compile(r"(?:AWG\s*([0-9]{1,2})|([0-9]{1,2})\s*AWG)", re.IGNORECASE)


def wire_sizes() -> tuple[str, ...]:
    """Sizes that the tables have, as a case file writes them.

    Examples
    --------
    >>> wire_sizes()[2], wire_sizes()[-1]
    ('42 AWG', '0.080 mm')
    """
    return (*(f"{size} AWG" for size in _NEMA["single"]), *(f"{bare:.3f} mm" for bare, _, _ in _IEC_GRADE_1))


def awg_diameter(size: float) -> float:
    """Bare diameter of an American wire size in metres.

    Examples
    --------
    >>> round(awg_diameter(42) * 1e3, 5)
    0.06334
    """
    return float(0.127e-3 * 92 ** ((36 - size) / 39))


def find_wire(text: object, insulation: str | None = None, overall: float | None = None) -> Wire:
    """Look a wire up by its size as written.

    Parameters
    ----------
    text : object
        "42 AWG" or a metric bare diameter such as "0.063 mm".
    insulation : str, optional
        "single" or "heavy" for American sizes (single if not given), "grade 1" for metric ones.
    overall : float, optional
        Overall diameter in metres as measured or from the spool; replaces the tables.

    Raises
    ------
    CaseError
        If the size cannot be read, or no table has it and `overall` is not given.
    """
    if not isinstance(text, str):
        raise _no_size(text)
    name = " ".join(text.split())
    awg = _AWG.fullmatch(name)
    if awg:
        size = int(awg[1] or awg[2])
        bare, source = awg_diameter(size), "NEMA MW 1000"
        sizes = "40 to 45 AWG"
        if insulation == "grade 1":
            raise CaseError(
                f'{shown(text)} goes with the insulation "single" or "heavy"; "grade 1" is metric'
            )
        row = _NEMA[insulation or "single"].get(size)
    else:
        try:
            bare, source = parse(name, "length"), "IEC 60317-0-1 grade 1"
        except CaseError:
            raise _no_size(text) from None
        sizes = ", ".join(f"{d:.3f}" for d, _, _ in _IEC_GRADE_1) + " mm"
        if insulation in ("single", "heavy"):
            raise CaseError(f'{shown(text)} goes with the insulation "grade 1"; "{insulation}" is American')
        row = next((_middle(lo, hi) for d, lo, hi in _IEC_GRADE_1 if abs(d * 1e-3 - bare) < 5e-7), None)
    if overall is not None:
        if not within(overall, bare, 2 * bare):
            raise CaseError(
                f"an overall diameter of {mm(overall)} does not fit {shown(text)}, whose copper "
                f"alone has {mm(bare)}; write one from that to twice that"
            )
        return Wire(name=name, bare=bare, overall=(overall, overall, overall), source="the case file")
    if row is None:
        raise CaseError(
            f"received {shown(text)}, which is not in the table ({sizes}); choose one of these or give "
            "overall_diameter as well"
        )
    low, nominal, high = row
    return Wire(name=name, bare=bare, overall=(low * 1e-3, nominal * 1e-3, high * 1e-3), source=source)


def size_as_text(value: object) -> object:
    """The value of a key `wire`, or a sentence that offers the size that a plain number stands for."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        raise ValueError(str(_no_size(value)))
    return value


def _no_size(received: object) -> CaseError:
    """The sentence about what is no size; a plain number can only be meant as a gauge, or as millimetres."""
    bare = str(received).strip() if isinstance(received, str | int | float) else ""
    offer = 'a wire size such as "42 AWG" or "0.063 mm"'
    if re.fullmatch(r"[1-5][0-9]", bare):
        offer = f'"{bare} AWG"'
    elif re.fullmatch(r"0?\.[0-9]{1,6}", bare):
        offer = f'"{bare} mm"'
    return CaseError(f"received {shown(received)}; write {offer}")


def _middle(low: float, high: float) -> tuple[float, float, float]:
    return low, (low + high) / 2, high


def most_turns(*, width: float, height: float, overall: float) -> float:
    """Turns in a rectangular window at the densest packing of circles, π/(2√3) of the area.

    Each turn then takes (√3/2)·d² of the window; no winding reaches it.
    """
    return float(width * height / (3**0.5 / 2 * overall**2))
