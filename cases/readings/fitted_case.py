"""A case with the values that readings gave it, as a file that loads again."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.changes import change_value
from stringflux.geometry.reading.read import read_case
from stringflux.geometry.units import show, shown
from stringflux.postprocess.readings.fit import Fit
from stringflux.postprocess.readings.parameters import ReadModel

from ..files.changed import with_changes
from ..files.load import built_in_uses

_RULES = ("gap", "height", "fretted_gap")


def fitted_case(text: str, data: Mapping[str, Any], case: Case, model: ReadModel, fit: Fit, *, ohms: bool,
                remark: str) -> str:
    """The text of the fitted case.

    Parameters
    ----------
    text, data : str, mapping
        The case file as it is, and its content with the changes of the command line.
    ohms : bool
        Whether the direct-current resistance was read; it is then written as measured.
    remark : str
        Lines for its top.

    Raises
    ------
    CaseError
        When the fitted values make no possible case, say more turns than the window holds.
    """
    wanted = copy.deepcopy(dict(data))
    changes = _changes(data, case, model, fit, ohms)
    for dotted, value in changes.items():
        change_value(wanted, dotted, value)
    try:
        read_case(wanted, materials=built_in_uses())
    except CaseError as error:
        raise CaseError(f"the fitted values make no possible case: {error}") from None
    return with_changes(text, wanted, changes, remark)


def _changes(data: Mapping[str, Any], case: Case, model: ReadModel, fit: Fit, ohms: bool) -> dict[str, Any]:
    found = {f.parameter.name: f.value for f in fit.fitted}
    state = fit.state
    changes: dict[str, Any] = {}
    if any(name.split()[0] in ("coercivity", "charge") for name in found):
        single = any(" " in name for name in found)
        changes |= {"pole": _pole_by_pole(data, case, found)} if single else _all_alike(case, found)
    if "turns" in found:
        changes["coil.turns"] = round(found["turns"])
        if case.coil.fill is not None:  # in the space that they were fitted in, R as N and L as N²
            changes["coil.fill"] = float(f"{case.coil.fill * found['turns'] / case.coil.turns:.4g}")
    if "capacitance" in found:
        changes["coil.capacitance"] = show(found["capacitance"], "capacitance")
    if ohms and not model.made.resistance_measured and ("turns" in found or "wire" in state):
        share = state.get("turns", model.made.turns) / model.made.turns * state.get("wire", 1.0)
        changes["coil.resistance"] = show(model.made.resistance * share, "resistance")
    if "gap" in found:
        for path, rules in [("strings", case.strings), *((f"string.{i}", s) for i, s in enumerate(case.string, 1))]:
            for rule in _RULES:
                value = getattr(rules, rule)
                if value is not None:
                    changes[f"{path}.{rule}"] = show(round(value + found["gap"], 8), "length")
    return changes


def _all_alike(case: Case, found: Mapping[str, float]) -> dict[str, Any]:
    changes: dict[str, Any] = {}
    for i, pole in enumerate(case.pole, start=1):
        for j, part in enumerate(pole.part, start=1):
            if part.polarity is not None:
                for key, value in _magnet(part, found, "").items():
                    changes[f"pole.{i}.part.{j}.{key}"] = value
    return changes


def _pole_by_pole(data: Mapping[str, Any], case: Case, found: Mapping[str, float]) -> list[dict[str, Any]]:
    """Every pole as an entry of its own."""
    entries: dict[int, dict[str, Any]] = {}
    for entry, pole in enumerate(case.pole):
        for number in case.pole_numbers(entry):
            raw = {"at": [number], **copy.deepcopy({k: v for k, v in data["pole"][entry].items() if k != "at"})}
            for part, content in zip(pole.part, raw["part"], strict=True):
                if part.polarity is not None:
                    content.update(_magnet(part, found, f" {number}"))
            entries[number] = raw
    return [entries[number] for number in sorted(entries)]


def _magnet(part: Any, found: Mapping[str, float], which: str) -> dict[str, Any]:
    """Keys of one magnet."""
    out: dict[str, Any] = {}
    scale = found.get(f"coercivity{which}", found.get("coercivity"))
    charge = found.get(f"charge{which}", found.get("charge"))
    if scale is not None:
        value = round(part.coercivity_scale * scale, 4)
        if not 0.3 <= value <= 2:
            raise CaseError(f"the fitted coercivity of {shown(part.material)} is {value:g} times that of its grade; "
                            "it is another grade, name that one in the case")
        out["coercivity_scale"] = value
    if charge is not None:
        out["charge"] = round(charge, 4)
    return out
