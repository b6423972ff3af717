"""Winding wire: bare and overall diameters.

American sizes: bare d = 0.127 mm · 92^((36−n)/39) (ASTM B258), half sizes as well; overall with insulation from NEMA
MW 1000, single and heavy build. Metric sizes from 0.04 to 0.1 mm: overall of grade 1 and grade 2 from IEC 60317-0-1.
The overall figures were read in an open data set of the standards' tables (MAS, `data/wires.ndjson`).
Metres throughout.

What the enamel is made of (plain oleoresinous enamel, polyurethane, polyvinyl formal) names no diameter: each is made
in every build. So a case names the build, or gives `overall_diameter` as measured.

How full windings are: 55 to 75 % of the section for scattered ones (the trade's experience, no source).
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
_NEMA: Mapping[str, Mapping[float, tuple[float, float, float]]] = MappingProxyType(
    {
        "single": {
            40: (0.081, 0.088, 0.094),
            41: (0.074, 0.079, 0.084),
            42: (0.066, 0.071, 0.076),
            42.5: (0.064, 0.067, 0.071),
            43: (0.058, 0.062, 0.066),
            44: (0.053, 0.057, 0.061),
            45: (0.0455, 0.0488, 0.0521),
            46: (0.0409, 0.0439, 0.0470),
        },
        "heavy": {
            40: (0.091, 0.097, 0.102),
            41: (0.081, 0.086, 0.091),
            42: (0.071, 0.076, 0.081),
            42.5: (0.069, 0.073, 0.077),
            43: (0.064, 0.069, 0.074),
            44: (0.058, 0.064, 0.069),
            45: (0.0505, 0.0545, 0.0584),
            46: (0.0460, 0.0497, 0.0533),
        },
    }
)

# Millimetres: bare, then least and greatest overall of grade 1 and of grade 2.
_IEC = (
    (0.040, (0.044, 0.049), (0.050, 0.054)),
    (0.043, (0.047, 0.052), (0.053, 0.058)),
    (0.045, (0.050, 0.055), (0.056, 0.061)),
    (0.048, (0.053, 0.059), (0.060, 0.064)),
    (0.050, (0.055, 0.060), (0.061, 0.066)),
    (0.053, (0.058, 0.064), (0.065, 0.070)),
    (0.056, (0.062, 0.067), (0.068, 0.074)),
    (0.060, (0.066, 0.072), (0.073, 0.079)),
    (0.063, (0.069, 0.076), (0.077, 0.083)),
    (0.067, (0.074, 0.080), (0.081, 0.088)),
    (0.071, (0.078, 0.084), (0.085, 0.091)),
    (0.075, (0.082, 0.089), (0.090, 0.095)),
    (0.080, (0.087, 0.094), (0.095, 0.101)),
    (0.085, (0.093, 0.100), (0.101, 0.107)),
    (0.090, (0.098, 0.105), (0.106, 0.113)),
    (0.095, (0.103, 0.111), (0.112, 0.119)),
    (0.100, (0.108, 0.117), (0.118, 0.125)),
)

SCATTERED_FILL = 0.65
SCATTERED_RANGE = (0.55, 0.75)
INSULATIONS = ("single", "heavy", "grade 1", "grade 2")
_AWG = re.compile(r"(?:AWG\s*([0-9]{1,2}(?:\.5)?)|([0-9]{1,2}(?:\.5)?)\s*AWG)", re.IGNORECASE)


def wire_sizes() -> tuple[str, ...]:
    """Sizes that the tables have, as a case file writes them.

    Examples
    --------
    >>> wire_sizes()[2], wire_sizes()[-1]
    ('42 AWG', '0.100 mm')
    """
    return (*(f"{size:g} AWG" for size in _NEMA["single"]), *(f"{bare:.3f} mm" for bare, _, _ in _IEC))


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
        "single" (if not given) or "heavy" for American sizes, "grade 1" (if not given) or "grade 2" for metric ones.
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
        size = float(awg[1] or awg[2])
        bare, source = awg_diameter(size), "NEMA MW 1000"
        sizes = "40 to 46 AWG, and of halves 42.5"
        if insulation in ("grade 1", "grade 2"):
            raise CaseError(
                f'{shown(text)} goes with the insulation "single" or "heavy"; "{insulation}" is metric'
            )
        row = _NEMA[insulation or "single"].get(size)
    else:
        try:
            bare, source = parse(name, "length"), f"IEC 60317-0-1 {insulation or 'grade 1'}"
        except CaseError:
            raise _no_size(text) from None
        sizes = ", ".join(f"{d:.3f}" for d, _, _ in _IEC) + " mm"
        if insulation in ("single", "heavy"):
            raise CaseError(f'{shown(text)} goes with the insulation "grade 1" or "grade 2"; "{insulation}" is '
                            "American")
        row = next((_middle(*(second if insulation == "grade 2" else first))
                    for d, first, second in _IEC if abs(d * 1e-3 - bare) < 5e-7), None)
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
    if re.fullmatch(r"[1-5][0-9](\.5)?", bare):
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


def too_full(turns: float, wire: str, share: float, *, known: bool) -> str:
    """A sentence without its full stop about turns that are more than scattered windings usually hold; "" if not.

    Parameters
    ----------
    share : float
        Of the section that the winding takes, which is copper and insulation.
    known : bool
        Whether the case says how full it is; else the window is meant, and it is full at :data:`SCATTERED_FILL`.
    """
    limit = SCATTERED_RANGE[1] if known else SCATTERED_FILL
    if share <= limit * (1 + 1e-9):
        return ""
    return (f"{turns:g} turns of {wire} take {share:.0%} of their room, more than a scattered winding usually holds: "
            f"{SCATTERED_FILL:.0%}, {SCATTERED_RANGE[0]:.0%} to {SCATTERED_RANGE[1]:.0%}")
