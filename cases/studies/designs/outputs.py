"""What a design is judged by: names, units and titles of the figures of a study."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown as as_typed

_COLUMN = re.compile(r"(string|pole)_([1-9][0-9]?)_([a-z_]+)")


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One column of a study's table.

    Attributes
    ----------
    name : str
        As in the table; "string_3_output" is the third string's part of "output".
    unit : str
        Of the values, SI.
    shown : str
        Unit that people read it in.
    size : float
        What one of `shown` is in `unit`.
    title : str
    better : {"more", "less", ""}
        Which way most people want it; "" where that is a matter of taste.
    per : {"string", "pole", ""}
        Whether every string or pole also has a column of its own.
    """

    name: str
    unit: str
    shown: str
    size: float = 1.0
    title: str
    better: Literal["more", "less", ""] = ""
    per: Literal["string", "pole", ""] = ""


_ALL = (
    Figure(name="sensitivity", unit="V*s/m", shown="mV*s/m", size=1e-3, better="more", per="string",
           title="Sensitivity, mean of the strings"),
    Figure(name="balance", unit="dB", shown="dB", better="less", per="string",
           title="Loudest over quietest string, by sensitivity"),
    Figure(name="gap_slope", unit="dB/m", shown="dB/mm", size=1e3, per="string",
           title="Change of sensitivity with the gap, mean of the strings"),
    Figure(name="output", unit="V", shown="mV", size=1e-3, better="more", per="string",
           title="Output at equal pluck, rms, mean of the strings"),
    Figure(name="output_balance", unit="dB", shown="dB", better="less", per="string",
           title="Loudest over quietest string, by output at equal pluck"),
    Figure(name="pull", unit="cent", shown="cent", better="less", per="string",
           title="Largest shift of a string's pitch by the magnets"),
    Figure(name="turns", unit="", shown="", title="Turns of the coil; of several coils those of the first"),
    Figure(name="resistance", unit="ohm", shown="kohm", size=1e3, title="Resistance of the winding"),
    Figure(name="inductance", unit="H", shown="H", title="Inductance, poles in place"),
    Figure(name="inductance_least", unit="H", shown="H",
           title="Least inductance that the doubt about signals in magnets and steel leaves open"),
    Figure(name="inductance_most", unit="H", shown="H",
           title="Largest inductance that the doubt about signals in magnets and steel leaves open"),
    Figure(name="capacitance", unit="F", shown="pF", size=1e-12, title="Capacitance of the winding"),
    Figure(name="resonance", unit="Hz", shown="kHz", size=1e3, title="Resonance with controls and cable"),
    Figure(name="resonance_peak", unit="dB", shown="dB", title="Height of that resonance over low frequencies"),
    Figure(name="hum_area", unit="m^2", shown="m^2", better="less", title="Area for uniform fields of the mains"),
    Figure(name="hum_per_output", unit="dB", shown="dB", better="less",
           title="Hum at 50 Hz in the mean field of homes, over the output"),
    Figure(name="face_field", unit="T", shown="mT", size=1e-3, per="pole",
           title="Field over the poles' faces, mean of the moduli"),
    Figure(name="magnet_volume", unit="m^3", shown="mm^3", size=1e-9, better="less", title="Volume of all magnets"),
)

FIGURES = {figure.name: figure for figure in _ALL}
"""By name, without the columns of single strings and poles."""

COMMON = ("sensitivity", "balance", "gap_slope", "inductance", "resistance", "hum_area", "face_field",
          "magnet_volume")
"""Computed when nothing is asked for: those that cost no linkage map and no eddy currents."""


def figure_of(column: str) -> Figure:
    """The figure of a column, one of a single string or pole included.

    Raises
    ------
    CaseError
        There is none; near matches are named.

    Examples
    --------
    >>> figure_of("string_3_output").title
    'String 3: output at equal pluck, rms'
    """
    if column in FIGURES:
        return FIGURES[column]
    match = _COLUMN.fullmatch(column)
    base = FIGURES.get(match[3]) if match else None
    if match and base and base.per == match[1]:
        name = _SINGLE.get(base.name, base.title.split(", mean")[0])
        return replace(base, name=column, per="", better=base.better if base.name != "balance" else "",
                       title=f"{match[1].capitalize()} {match[2]}: {name[0].lower()}{name[1:]}")
    near = difflib.get_close_matches(column.lower(), FIGURES, n=3, cutoff=0.5)
    hint = f"did you mean {' or '.join(near)}?" if near else f"write one of {', '.join(FIGURES)}"
    raise CaseError(f"received the figure {as_typed(column)}, which there is not; {hint}")


_SINGLE = {"balance": "Sensitivity against the loudest string", "pull": "Shift of its pitch by the magnets",
           "output_balance": "Output against the loudest string"}


def wanted_figures(want: Iterable[str]) -> tuple[str, ...]:
    """Names in `FIGURES` that give all the columns of `want`, in the registry's order; the common ones for none.

    Raises
    ------
    CaseError
        When a column is none.
    """
    names = set()
    for column in want:
        figure_of(column)
        match = _COLUMN.fullmatch(column)
        names.add(column if column in FIGURES or match is None else match[3])
    return tuple(name for name in FIGURES if name in (names or COMMON))


def without_value(case: Case) -> dict[str, str]:
    """Figures that a case has no value for, each with the sentence that says why."""
    if case.rows():
        return {}
    return {"face_field": "face_field: this case has no row of poles, so there are no faces to take it over; "
                          "leave it out"}
