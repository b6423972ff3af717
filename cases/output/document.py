"""Everything that `--json` prints and folders keep: one shape of document for every command.

::

    program, schema, command, date, versions, platform      who made it, when, and by what
    case      name, title, text of the file, changes, and the case in SI with its units
    units     SI units of the result's keys; what is not there has none
    result    what the command found
    files     what lies beside it in a results folder
"""

from __future__ import annotations

import json
import math
import platform
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any, get_args

from stringflux.geometry.case.keys import Quantity, Table
from stringflux.geometry.units import KINDS

from ..files.load import find_case

if TYPE_CHECKING:
    from stringflux.geometry.case.model import Case
    from stringflux.postprocess.results.prediction import Prediction

SCHEMA = 3
"""Counts up whenever a key changes its name, its place or its meaning."""

PROGRAMS = ("stringflux", "numpy", "scipy", "scikit-fem", "gmsh", "meshio", "matplotlib", "pyvista")

UNITS = {
    "probe_height": "m",
    "timings": "s",
    "poles": {"x": "m", "y": "m", "face": "m", "field": "T", "field_band": "T"},
    "quarter_turns": {"pitch": "m", "movement": "m", "change": "dB"},
    "coil": {"inductance_air": "H", "inductance": "H"},
    "coils": {"inductance_air": "H", "inductance": "H"},
    "pairs": {"mutual": "H"},
    "slice": {**dict.fromkeys(("y", "x", "z", "string_line"), "m"), "b": "T", "outlines": {"polygon": "m"}},
    "section": {"points": "m", "flux": "Wb", "b": "T"},
    "strings": {
        **dict.fromkeys(("y", "height", "gap", "diameter", "offset", "map_y", "map_z", "x"), "m"),
        **dict.fromkeys(("bias", "peak_flux_density", "line_bias", "line_flux_density"), "T"),
        **dict.fromkeys(("line_moment", "line_moment_across"), "A m"),
        **dict.fromkeys(("reciprocal", "line_reciprocal"), "T/A"),
        **dict.fromkeys(("linkage", "map_linkage"), "Wb"),
        **dict.fromkeys(
            ("sensitivity", "sensitivity_across", "sensitivity_curve", "sensitivity_reversible", "sensitivity_band"),
            "V s/m"
        ),
        **dict.fromkeys(("balance", "balance_force", "balance_displacement", "balance_band"), "dB"),
        "sensitivity_offset": "V s/m",
        "gap_slope": "dB/m",
        "pitch": "Hz",
        "tension": "N",
        "unit_mass": "kg/m",
        "over": {"x": "m", "gap": "m", "bias": "T", "reciprocal": "T/A"},
    },
}
"""Units of the records; what is not here has none."""


@dataclass(frozen=True, kw_only=True)
class CaseSource:
    """Where a case came from: name, text of the file, and what was changed on the command line."""

    name: str
    text: str
    changes: Mapping[str, Any] = field(default_factory=dict)


def case_source(which: str, changes: Mapping[str, Any] | None = None) -> CaseSource:
    """The file of a case, as it lies there now."""
    path = find_case(which)
    return CaseSource(name=path.stem, text=path.read_text(encoding="utf-8-sig"), changes=dict(changes or {}))


def document(command: str, case: Case | str, source: CaseSource, result: Any, units: Mapping[str, Any],
             files: Iterable[str] | None = None) -> str:
    """Text of one document, with a line break at its end.

    Parameters
    ----------
    command : str
        The command that made it.
    case : Case or str
        What was computed; of a mix its title, for it has several cases.
    result : record or mapping
        What was found: records, arrays and numbers in SI.
    units : mapping
        SI units of the result's keys, nested as they are where one key has two meanings.
    files : iterable of str, optional
        Names of the files that lie beside it.
    """
    title, si, of_case = (case, None, {}) if isinstance(case, str) else (
        case.title, case.model_dump(mode="json"), case_units(case))
    content = {
        "program": "stringflux",
        "schema": SCHEMA,
        "command": command,
        "date": datetime.now(UTC).isoformat(timespec="seconds"),
        "versions": versions(),
        "platform": platform.platform(),
        "case": {
            "name": source.name,
            "title": title,
            "text": source.text,
            "changes": plain(source.changes),
            "si": si,
            "units": of_case,
        },
        "units": units,
        "result": plain(result),
        "files": sorted(files or ()),
    }
    return _laid_out(content) + "\n"


def prediction_document(case: Case, prediction: Prediction, source: CaseSource, files: Iterable[str] = ()) -> str:
    """Text of `prediction.json`."""
    return document("predict", case, source, prediction, UNITS, files)


def versions() -> dict[str, str]:
    """Versions of python and of every program that has a part in the result."""
    found = {"python": platform.python_version()}
    for name in PROGRAMS:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found


def plain(value: Any) -> Any:
    """Records, arrays and numbers as JSON knows them; what is not finite becomes null."""
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(v) for key, v in value.items()}
    if hasattr(value, "tolist"):  # of numpy, which a command's --help does without
        return plain(value.tolist())
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [plain(v) for v in value]
    if isinstance(value, float):
        # nine digits are far more than is known, and half the file
        return float(f"{value:.9g}") if math.isfinite(value) else None
    return value if isinstance(value, str | int | None) else str(value)


def case_units(table: Table, path: str = "") -> dict[str, str]:
    """SI unit of every quantity that a case holds, by dotted path: ``{"coil.top": "m"}``."""
    units: dict[str, str] = {}
    for name, info in type(table).model_fields.items():
        here, value = f"{path}{name}", getattr(table, name)
        marks = (*info.metadata, *_marks(info.annotation))
        quantity = next((m for m in marks if isinstance(m, Quantity)), None)
        if quantity is not None and value is not None:
            units[here] = KINDS[quantity.kind].si
        if isinstance(value, Mapping):
            for key, item in value.items():
                units |= case_units(item, f"{here}.{key}.")
        for item in value if isinstance(value, tuple) else (value,):
            if isinstance(item, Table):
                units |= case_units(item, f"{here}.")
    return units


def _marks(annotation: Any) -> list[Any]:
    """What stands inside the brackets of Annotated, tuple and union, all levels."""
    inner = get_args(annotation)
    return [mark for part in inner for mark in (part, *_marks(part))]


def _laid_out(value: Any, depth: int = 0) -> str:
    """JSON with a line for every key, but one line for a list of numbers."""
    pad = "  " * (depth + 1)
    if isinstance(value, dict) and value:
        lines = [f"{pad}{json.dumps(k, ensure_ascii=False)}: {_laid_out(v, depth + 1)}" for k, v in value.items()]
        return "{\n" + ",\n".join(lines) + f"\n{pad[2:]}}}"
    if isinstance(value, list) and any(isinstance(v, dict) for v in value):
        lines = [pad + _laid_out(v, depth + 1) for v in value]
        return "[\n" + ",\n".join(lines) + f"\n{pad[2:]}]"
    return json.dumps(value, allow_nan=False, ensure_ascii=False)
