"""One pickup of a batch as a case file: the case with every part off by its own deviation.

The strings stay where nut and bridge hold them when a pole is too high, so every string gets a height of its own::

    height = height₀ + δ(gap) + δ(gap of the string)

A pole that stands on a body keeps its foot there: its uppermost part is longer or shorter. Others move as a whole.

A measured resistance scales with the wire, R = R₀ (1 + δ(turns)) / (1 + δ(diameter))², as a computed one does by
itself. A winding whose space goes by its turns has more of it, up to its window.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from typing import Any

from stringflux.geometry.case.bodies import BodyTable
from stringflux.geometry.case.bodies.of_a_pole import FormedPart
from stringflux.geometry.case.coil import Coil
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.case.poles import Part
from stringflux.geometry.case.rows import PoleRow

from .causes import Causes
from .parts import batches_of, has_coercivity, pole_count, row_tables, stands_on_a_body

_Off = Mapping[tuple[str, int], float]


def deviated(case: Case, document: Mapping[str, Any], causes: Causes, t: Sequence[float]) -> dict[str, Any]:
    """Content of the case file of one pickup.

    Parameters
    ----------
    case : Case
    document : mapping
        What `case` was read from, as a TOML reader gives it.
    causes : Causes
    t : sequence of float
        Deviations over their limits, in the order of :meth:`.Causes.places`.
    """
    values = causes.limits()
    off = {key: float(values[column] * t[column]) for key, column in causes.places().items()}
    made = copy.deepcopy({k: v for k, v in document.items() if k != "scatter"})
    for row, table in row_tables(case, made):
        _set_poles(table, case, row, off)
    for number, (table, body) in enumerate(zip(made.get("body", ()), case.body, strict=True), pole_count(case) + 1):
        if body.magnetised is not None:
            _set_magnet(table, body, case, number, off)
    _set_strings(made, case, off)
    tables, several = (made["coil"], *(p["coil"] for p in made.get("second_coil", ()))), len(case.coils()) > 1
    for k, (table, coil) in enumerate(zip(tables, case.coils(), strict=True), start=1):
        _set_coil(table, coil, k if several else 0, off)
    return made


def _set_poles(table: dict[str, Any], case: Case, row: PoleRow, off: _Off) -> None:
    higher = [off.get(("height", row.before + n), 0.0) for n in range(1, len(row.row.places()) + 1)]
    table["row"]["face"] = [_mm(face + more) for face, more in zip(row.row.faces(), higher, strict=True)]
    entries = {n: entry for entry in range(len(row.pole)) for n in row.numbers(entry)}
    poles = []
    for n, entry in sorted(entries.items()):
        pole = copy.deepcopy(table["pole"][entry])
        for part, read in zip(pole["part"], row.pole[entry].part, strict=True):
            if read.polarity is not None:
                _set_magnet(part, read, case, row.before + n, off)
        if higher[n - 1] and stands_on_a_body(case, row, n - 1):
            top = row.pole[entry].part[0]
            pole["part"][0][top.tall_key] = _mm(top.tall + higher[n - 1])
        poles.append({**pole, "at": [n]})
    table["pole"] = poles


def _set_magnet(table: dict[str, Any], read: Part | FormedPart | BodyTable, case: Case, number: int,
                off: _Off) -> None:
    batch = batches_of(case)[read.material]
    table["remanence_scale"] = read.remanence_scale * (1 + _both(off, "remanence", batch, number))
    table["charge"] = read.charge * (1 + off.get(("charge", 0), 0.0)) * (1 + off.get(("charge_each", number), 0.0))
    if has_coercivity(case, read.material):
        table["coercivity_scale"] = read.coercivity_scale * (1 + _both(off, "coercivity", batch, number))


def _both(off: _Off, name: str, shared: int, item: int) -> float:
    """What this one shares with others and what it has for itself."""
    return off.get((name, shared), 0.0) + off.get((f"{name}_each", item), 0.0)


def _set_strings(made: dict[str, Any], case: Case, off: _Off) -> None:
    for string, placed in zip(made["string"], placed_strings(case), strict=True):
        for rule in ("gap", "height", "fretted_gap"):
            string.pop(rule, None)
        string["height"] = _mm(placed.underside + _both(off, "gap", 0, placed.number))
        string["position"] = _mm(placed.y + _both(off, "position", 0, placed.number))
        if harder := _both(off, "pinning", 0, placed.number):
            string["pinning_scale"] = placed.shape.pinning * (1 + harder)


def _set_coil(coil: dict[str, Any], read: Coil, number: int, off: _Off) -> None:
    more, thicker = 1 + off.get(("turns", number), 0.0), 1 + off.get(("wire", number), 0.0)
    coil["turns"] = read.turns * more
    made = read.of_turns(read.turns * more)
    if made.wound_build is not None:
        coil["wound_build"] = _mm(min(made.wound_build, read.thickness))
    if made.wound_builds:
        coil["wound_builds"] = [{"height": _mm(b.height), "build": _mm(min(b.build, read.thickness))}
                                for b in made.wound_builds]
    if made.fill is not None and made.wound > read.thickness:  # what is more in a full window is wound tighter
        coil["fill"] = made.fill * made.wound / read.thickness
    if read.taps:
        coil["taps"] = [tap * more for tap in read.taps]
    if read.resistance is not None:
        coil["resistance"] = f"{(made.resistance or 0.0) / thicker**2:.15g} ohm"
    if thicker != 1:
        wire = read.winding_wire()
        # a bare diameter that no table has goes with the overall one that the table has; R feels each of its digits
        coil["wire"], coil["overall_diameter"] = f"{wire.bare * thicker * 1e3:.15g} mm", _mm(wire.overall[1])
        coil.pop("insulation", None)


def _mm(value: float) -> str:
    return f"{value * 1e3:.9f} mm"
