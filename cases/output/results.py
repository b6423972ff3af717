"""What goes into a results folder."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import OutputError
from stringflux.geometry.notes import note_name
from stringflux.postprocess.records.prediction import StringRecord
from stringflux.postprocess.results.prediction import Prediction

from .csv_table import Cell, csv_text
from .document import CaseSource, prediction_document
from .folder import MARK
from .mesh import write_section, write_slice
from .pictures import Drawer, drawer, pictures

COLUMNS: dict[str, Callable[[StringRecord], Cell]] = {
    "string": lambda s: s.number,
    "pole": lambda s: s.pole,
    "kind": lambda s: "wound" if s.wound else "plain",
    "note": lambda s: note_name(s.pitch),
    "pitch Hz": lambda s: s.pitch,
    "tension N": lambda s: s.tension,
    "mass g/m": lambda s: s.unit_mass * 1e3,
    "across mm": lambda s: s.y * 1e3,
    "axis height mm": lambda s: s.height * 1e3,
    "gap mm": lambda s: s.gap * 1e3,
    "field at string x mT": lambda s: s.bias[0] * 1e3,
    "field at string y mT": lambda s: s.bias[1] * 1e3,
    "field at string z mT": lambda s: s.bias[2] * 1e3,
    "flux linkage uWb": lambda s: s.linkage * 1e6,
    "S mV per m/s": lambda s: s.sensitivity * 1e3,
    "S lowest mV per m/s": lambda s: s.sensitivity_band[0] * 1e3,
    "S highest mV per m/s": lambda s: s.sensitivity_band[1] * 1e3,
    "S on one curve mV per m/s": lambda s: s.sensitivity_curve * 1e3,
    "S reversible mV per m/s": lambda s: s.sensitivity_reversible * 1e3,
    "S across mV per m/s": lambda s: s.sensitivity_across * 1e3,
    "S 0.1 mm closer dB": lambda s: -1e-4 * s.gap_slope,
    "B in string steel T": lambda s: s.peak_flux_density,
    "balance dB": lambda s: s.balance,
    "balance lowest dB": lambda s: s.balance_band[0],
    "balance highest dB": lambda s: s.balance_band[1],
    "balance at equal pluck force dB": lambda s: s.balance_force,
    "balance at equal pluck distance dB": lambda s: s.balance_displacement,
}
"""Columns of `strings.csv`, plain letters only so that every spreadsheet shows the units."""


def write_results(
    folder: Path,
    case: Case,
    prediction: Prediction,
    source: CaseSource,
    progress: Callable[[str, float], None] = lambda stage, share: None,
    more: Callable[[Path], None] = lambda folder: None,
    drawn: Drawer | None = None,
) -> tuple[str, tuple[str, ...]]:
    """Write everything about a prediction into an empty folder; `more` puts files of its own there.

    `drawn` draws half of the pictures: it may have been made ready before the prediction was there.

    Returns
    -------
    text : str
        Of `prediction.json`.
    notes : tuple of str
        What could not be made here, and why.

    Raises
    ------
    OutputError
        When the disk refuses.
    """
    try:
        progress("tables and mesh", 0.0)
        (folder / "strings.csv").write_text(strings_csv(prediction), encoding="utf-8", newline="")
        if prediction.quarter_turns:
            (folder / "screws.csv").write_text(screws_csv(prediction), encoding="utf-8", newline="")
        if prediction.section is not None:
            write_section(prediction.section, [p.material for p in case.placed_poles()[0].shape.parts], folder)
        elif prediction.slice is not None:
            write_slice(prediction.slice, folder)
        more(folder)
        made = pictures(case, prediction, drawn or drawer(case), progress)
        for name, content in made.files.items():
            (folder / name).write_bytes(content)
        text = prediction_document(case, prediction, source, [p.name for p in folder.iterdir()] + [MARK])
        (folder / MARK).write_text(text, encoding="utf-8")
    except OSError as error:
        raise OutputError(f"--out: the results cannot be written ({error.strerror or error})") from None
    return text, (f"no scene.png: {made.missing}",) if made.missing else ()


def strings_csv(prediction: Prediction) -> str:
    """The table of the strings, with units in its head."""
    places = prediction.strings[0].over if len(prediction.strings[0].over) > 1 else ()
    heads = [*COLUMNS, *(f"gap over {place.name} mm" for place in places)]
    rows = [[*(value(string) for value in COLUMNS.values()), *(p.gap * 1e3 for p in string.over if places)]
            for string in prediction.strings]
    return csv_text(heads, rows)


def screws_csv(prediction: Prediction) -> str:
    """What a quarter of a turn of each screw does to each string, with units in its head."""
    rows = [[turn.name, turn.pitch * 1e3, "up" if turn.clockwise > 0 else "down", turn.movement * 1e3, number, change]
            for turn in prediction.quarter_turns for number, change in zip(turn.strings, turn.change, strict=True)]
    return csv_text(["screw", "pitch mm", "clockwise", "quarter turn mm", "string", "change dB"], rows)
