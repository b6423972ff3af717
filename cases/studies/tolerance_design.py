"""One pickup of a batch as a case file: the case with every part off by its own deviation.

The strings stay where nut and bridge hold them when a pole is too high, so every string gets a gap and a place of
its own::

    gap = gap₀ + δ(gap) + δ(gap of the string) − δ(height of its pole)

A measured resistance scales with the wire, R = R₀ (1 + δ(turns)) / (1 + δ(diameter))², as a computed one does by
itself.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from typing import Any

from stringflux.geometry.case import Case
from stringflux.geometry.own_materials import LinearMagnet

from .tolerance_causes import Causes


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
    limits = {c.name: c.limit for c in causes.active}
    off = {key: limits[key[0]] * float(t[column]) for key, column in causes.places().items()}
    made = copy.deepcopy({k: v for k, v in document.items() if k != "scatter"})
    _set_poles(made, case, off)
    _set_strings(made, case, off)
    _set_coil(made, case, off)
    return made


def _both(off: Mapping[tuple[str, int], float], name: str, item: int) -> float:
    """What all share and what this one has for itself."""
    return off.get((name, 0), 0.0) + off.get((f"{name}_each", item), 0.0)


def _set_poles(made: dict[str, Any], case: Case, off: Mapping[tuple[str, int], float]) -> None:
    faces = [face + off.get(("height", n), 0.0) for n, face in enumerate(case.row.faces(), start=1)]
    made["row"]["face"] = [_mm(face) for face in faces]
    entries = {n: entry for entry in range(len(case.pole)) for n in case.pole_numbers(entry)}
    poles = []
    for n, entry in sorted(entries.items()):
        pole = copy.deepcopy(made["pole"][entry])
        for part, read in zip(pole["part"], case.pole[entry].part, strict=True):
            if read.polarity is None:
                continue
            part["remanence_scale"] = read.remanence_scale * (1 + _both(off, "remanence", n))
            part["charge"] = read.charge * (1 + off.get(("charge", 0), 0.0)) * (1 + off.get(("charge_each", n), 0.0))
            if not isinstance(case.materials.get(read.material), LinearMagnet):
                part["coercivity_scale"] = read.coercivity_scale * (1 + _both(off, "coercivity", n))
        poles.append({**pole, "at": [n]})
    made["pole"] = poles


def _set_strings(made: dict[str, Any], case: Case, off: Mapping[tuple[str, int], float]) -> None:
    nearest, faces, lows = case.nearest_poles(), case.row.faces(), case.undersides()
    for i, (string, y) in enumerate(zip(made["string"], case.string_places(), strict=True)):
        for rule in ("gap", "height", "fretted_gap"):
            string.pop(rule, None)
        pole = nearest[i]
        gap = lows[i] - faces[pole] + _both(off, "gap", i + 1) - off.get(("height", pole + 1), 0.0)
        string["gap"] = _mm(gap)
        string["position"] = _mm(y + _both(off, "position", i + 1))


def _set_coil(made: dict[str, Any], case: Case, off: Mapping[tuple[str, int], float]) -> None:
    coil, read = made["coil"], case.coil
    more, thicker = 1 + off.get(("turns", 0), 0.0), 1 + off.get(("wire", 0), 0.0)
    coil["turns"] = read.turns * more
    if read.taps:
        coil["taps"] = [tap * more for tap in read.taps]
    if read.resistance is not None:
        coil["resistance"] = f"{read.resistance * more / thicker**2:.15g} ohm"
    if thicker != 1:
        wire = read.winding_wire()
        # a bare diameter that no table has goes with the overall one that the table has; R feels each of its digits
        coil["wire"], coil["overall_diameter"] = f"{wire.bare * thicker * 1e3:.15g} mm", _mm(wire.overall[1])
        coil.pop("insulation", None)


def _mm(value: float) -> str:
    return f"{value * 1e3:.9f} mm"
