"""Flux densities for people: gauss and millitesla, as `--units` says. JSON and tables in files stay in SI."""

from __future__ import annotations

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

UNITS = ("both", "si", "trade")
HEADS = {"both": "G (mT)", "si": "mT", "trade": "G"}


def known_units(given: str) -> str:
    """The word, if it is one.

    Raises
    ------
    CaseError
    """
    if given not in UNITS:
        raise CaseError(f"--units: received {shown(given)}; write {', '.join(UNITS)}")
    return given


def field_cell(tesla: float, units: str = "both") -> str:
    """A flux density in the units of its head.

    Examples
    --------
    >>> field_cell(0.1265), field_cell(0.1265, "si"), field_cell(-0.00001, "trade")
    ('1265 (126.5)', '126.5', '0')
    """
    gauss, milli = f"{round(tesla * 1e4) + 0:d}", f"{round(tesla * 1e3, 1) + 0.0:.1f}"  # no -0.0
    return {"both": f"{gauss} ({milli})", "si": milli, "trade": gauss}[units]


def field_words(tesla: float, units: str = "both", per: str = "") -> str:
    """A flux density to four digits with its units, `per` what it is told of ("/A").

    Examples
    --------
    >>> field_words(0.1265), field_words(-0.0003125, "si"), field_words(0.02069, "trade", "/A")
    ('1265 G (126.5 mT)', '-0.3125 mT', '206.9 G/A')
    """
    gauss, milli = f"{tesla * 1e4:.4g} G{per}", f"{tesla * 1e3:.4g} mT{per}"
    return {"both": f"{gauss} ({milli})", "si": milli, "trade": gauss}[units]


def unit_lines(unit: str, size: float, units: str = "both") -> list[tuple[str, float]]:
    """The units that a figure is told in, a line of a table for each, with their factors from SI.

    Examples
    --------
    >>> unit_lines("mT/A", 1e3), unit_lines("mT", 1e3, "si"), unit_lines("kΩ", 1e-3, "trade")
    ([('G/A', 10000.0), ('mT/A', 1000.0)], [('mT', 1000.0)], [('kΩ', 0.001)])
    """
    if not unit.startswith("mT"):
        return [(unit, size)]
    gauss = (f"G{unit.removeprefix('mT')}", 10 * size)
    return {"both": [gauss, (unit, size)], "si": [(unit, size)], "trade": [gauss]}[units]


def band_cell(tesla: float, band: tuple[float, float] | None, units: str = "both") -> str:
    """The same with its range where there is one: "1297 (129.7), 1276 to 1337 G"."""
    if band is None:
        return field_cell(tesla, units)
    if units == "both":
        low, high = (field_cell(v, "trade") for v in sorted(band))
        return f"{field_cell(tesla)}, {low} to {high} G"
    low, high = (field_cell(v, units) for v in sorted(band))
    return f"{field_cell(tesla, units)} ({low} to {high})"
