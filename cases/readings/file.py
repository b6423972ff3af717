"""A file of readings: comma-separated text, quantities with their units in the cells.

    quantity, pole, distance, frequency, value, uncertainty
    field,       1,   0.5 mm,          , 131 mT,       3 mT
    inductance,   ,         ,     1 kHz, 1.81 H,        1 %

    emf rms,      , …, string 1, gap 2.5 mm, frequency 196 Hz, amplitude 0.5 mm, value 21.9 mV, uncertainty 1 %
    flux step,    , …, step magnets out, value 61 mWb, uncertainty 2 %

The head names the columns, in any order; lines that begin with # are remarks. An uncertainty is one standard
deviation, with a unit or as a percentage. Columns: quantity, value, uncertainty; pole and distance (field); string
and gap (output); string, gap, frequency and amplitude (emf peak, emf rms), with gap uncertainty and amplitude
uncertainty, nothing if left out; step (flux step: magnets out, turned over); frequency (inductance; resistance, left
out for direct current); temperature (resistance, 20 degC if left out); load (resonance: none, case, or "470 pF",
"470 pF + 1 Mohm"); note. Of a magnet that falls through a coil: emf peak and flux step, with peak (first, second),
and height, or speed of one that is moved by hand, each with its uncertainty.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from stringflux.geometry.case.keys import near
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import KINDS as DIMENSIONS
from stringflux.geometry.units import parse, show, shown, within
from stringflux.postprocess.readings.reading import (
    BY_HAND,
    FALLING,
    KINDS,
    PEAKS,
    STEPS,
    BenchLoad,
    Reading,
    ReadingKind,
)

from ..files.text import read_text_file
from ..terminal.quantities import read_temperature

MOST_READINGS = 500
COLUMNS = ("quantity", "value", "uncertainty", "pole", "string", "distance", "gap", "frequency", "amplitude",
           "amplitude uncertainty", "gap uncertainty", "step", "peak", "height",
           "height uncertainty", "speed", "speed uncertainty", "temperature", "load", "note")
NEEDED = COLUMNS[:3]
RANGES: Mapping[str, tuple[str, float, float]] = {
    "distance": ("length", 0.0, 20e-3),
    "gap": ("length", 0.3e-3, 15e-3),
    "frequency": ("frequency", 20.0, 20e3),
    "amplitude": ("length", 1e-6, 5e-3),
    "height": ("length", 1e-3, 3.0),
    "speed": ("speed", 0.01, 20.0),
}
VALUES: Mapping[str, tuple[float, float]] = {
    "field": (-3.0, 3.0), "probe offset": (-5e-3, 5e-3), "resistance": (0.01, 10e6), "inductance": (1e-6, 1e3),
    "resonance": (100.0, 200e3), "output": (1e-9, 1e3),
    "emf peak": (1e-9, 1e3), "emf rms": (1e-9, 1e3), "flux step": (1e-9, 1e3),
}
_DB = re.compile(r"\s*([+-]?[0-9]{1,4}(?:\.[0-9]{0,9})?)\s*dB\s*", re.IGNORECASE)
_PERCENT = re.compile(r"\s*([0-9]{1,4}(?:\.[0-9]{0,9})?)\s*%\s*")


def read_readings(path: str, case: Case) -> tuple[Reading, ...]:
    """Read a file and check it against the case it belongs to.

    Raises
    ------
    CaseError
        With the first fault: file, line and column, what was received and what would do.
    """
    poles = sum(len(row.row.places()) for row in case.rows())
    return _read(path, KINDS, poles, len(case.string))


def read_falling_readings(path: str, *, by_hand: bool) -> tuple[Reading, ...]:
    """Read a file of a magnet that falls through a coil, or is moved by hand; errors as of :func:`read_readings`."""
    return _read(path, BY_HAND if by_hand else FALLING, 0, 0)


def _read(path: str, kinds: Mapping[str, ReadingKind], poles: int, strings: int) -> tuple[Reading, ...]:
    name = Path(path).name or path
    rows = _rows(read_text_file(path, "a file of readings"), name)
    readings = tuple(_Line(name, number, cells).reading(kinds, poles, strings) for number, cells in rows)
    if not readings:
        raise CaseError(f"{name}: there is no reading in it; write one on each line under the head")
    _one_unit_of_output(name, readings)
    return readings


def _rows(text: str, name: str) -> list[tuple[int, dict[str, str]]]:
    """Cells by column, with the number of each line."""
    head: list[str] | None = None
    mark, rows = ",", []
    for number, line in enumerate(re.split(r"\r\n|\r|\n", text), start=1):
        if not line.strip(" \t,;") or line.lstrip().startswith("#"):
            continue
        if head is None and ";" in line and "," not in line:
            mark = ";"
        try:
            found = next(csv.reader([line], delimiter=mark, skipinitialspace=True, strict=True))
        except csv.Error as error:
            raise CaseError(f"{name}, line {number}: {error}; close every quotation mark in its line") from None
        cells = [cell.strip() for cell in found]
        if head is None:
            head = _head(name, number, cells)
            continue
        if len(cells) > len(head) and any(cells[len(head):]):
            raise CaseError(f"{name}, line {number}: received {len(cells)} cells, but the head names {len(head)} "
                            "columns; write as many, decimals with a point")
        rows.append((number, {column: cell for column, cell in zip(head, cells, strict=False) if column}))
        if len(rows) > MOST_READINGS:
            raise CaseError(f"{name}, line {number}: more than {MOST_READINGS} readings; keep the best ones")
    if head is None:
        raise CaseError(f"{name} is empty; begin with a head such as: quantity, pole, distance, value, uncertainty")
    return rows


def _head(name: str, number: int, cells: list[str]) -> list[str]:
    found = [cell.lower() for cell in cells]
    while found and not found[-1]:
        found.pop()
    for column in found:
        if column not in COLUMNS:
            what = f"there is no column {shown(column)}{near(column, COLUMNS)}" if column else "a column has no name"
            raise CaseError(f"{name}, line {number}: {what}; the columns are {', '.join(COLUMNS)}")
        if found.count(column) > 1:
            raise CaseError(f"{name}, line {number}: the column {shown(column)} is there twice; keep one")
    for column in NEEDED:
        if column not in found:
            raise CaseError(f'{name}, line {number}: the column "{column}" is missing; name it in the head')
    return found


class _Line:
    """One line of the file."""

    def __init__(self, name: str, number: int, cells: dict[str, str]) -> None:
        self.name, self.number, self.cells = name, number, cells

    def fault(self, column: str, text: str) -> CaseError:
        return CaseError(f'{self.name}, line {self.number}, column "{column}": {text}')

    def reading(self, kinds: Mapping[str, ReadingKind], poles: int, strings: int) -> Reading:
        quantity = " ".join(self.cells.get("quantity", "").lower().split())
        if quantity not in kinds:
            raise self.fault("quantity", f"received {shown(quantity)}{near(quantity, kinds)}; "
                                         f"write {', '.join(kinds)}")
        kind = kinds[quantity]
        for column in kind.needs:
            if column not in self.cells:
                raise self.fault(column, f"it is missing, and a reading of {quantity} needs it; add it")
            if not self.cells[column]:
                raise self.fault(column, f"it is empty, and a reading of {quantity} needs it; fill it in")
        for column, cell in self.cells.items():
            if cell and column not in (*NEEDED, *kind.needs, *kind.allows, "note"):
                raise self.fault(column, f"received {shown(cell)}, which a reading of {quantity} has no use for; "
                                         "leave it empty")
        if "amplitude" in kind.needs and self._quantity("frequency") is None:
            raise self.fault("frequency", f"received {shown(self.cells['frequency'])}; write how often the "
                                          "string swings")
        value, absolute = self._value(quantity, kind.dimension)
        return Reading(
            line=self.number, quantity=quantity, value=value, absolute=absolute,
            uncertainty=self._uncertainty(value, kind.dimension, absolute),
            pole=self._pole(quantity, poles), string=self._number("string", strings),
            **{column: self._quantity(column) for column in RANGES},
            amplitude_uncertainty=self._spread("amplitude"), gap_uncertainty=self._spread("gap"),
            height_uncertainty=self._spread("height"), speed_uncertainty=self._spread("speed"),
            step=self._word("step", tuple(STEPS)), peak=self._word("peak", PEAKS),
            temperature=self._temperature(), load=self._load(),
        )

    def _parse(self, column: str, text: str, dimension: str) -> float:
        try:
            return parse(text, dimension)
        except CaseError as error:
            raise self.fault(column, str(error)) from None

    def _quantity(self, column: str) -> Any:
        text = self.cells.get(column, "")
        if not text or (column == "frequency" and text.lower() in ("dc", "d.c.")):
            return None
        dimension, low, high = RANGES[column]
        value = self._parse(column, text, dimension)
        if not within(value, low, high):
            raise self.fault(column, f"received {shown(text)}; write {DIMENSIONS[dimension].name} from "
                                     f"{show(low, dimension)} to {show(high, dimension)}")
        return value

    def _pole(self, quantity: str, count: int) -> int | None:
        """Poles count on through all rows, as `predict` numbers them."""
        if count == 0 and quantity == "field":
            raise self.fault("pole", "the case has no poles, and a field is read on the axis of one; leave this "
                                     "reading out")
        return self._number("pole", count)

    def _number(self, column: str, count: int) -> int | None:
        text = self.cells.get(column, "")
        if not text:
            return None
        if not (text.isascii() and text.isdigit() and len(text) < 4 and 1 <= int(text) <= count):
            raise self.fault(column, f"received {shown(text)}; the case has {column}s 1 to {count}, write one")
        return int(text)

    def _value(self, quantity: str, dimension: str) -> tuple[float, bool]:
        text, absolute = self.cells.get("value", ""), False
        if dimension == "level":
            match = _DB.fullmatch(text.replace("−", "-"))
            if match is not None:
                return float(match[1]), False
            if text.lower().rstrip().endswith("db"):
                raise self.fault("value", f'received {shown(text)}; write a level such as "-3.5 dB"')
            dimension, absolute = "voltage", True
        value = self._parse("value", text, dimension)
        low, high = VALUES[quantity]
        if not within(value, low, high):
            raise self.fault("value", f"received {shown(text)}; write {DIMENSIONS[dimension].name} from "
                                      f"{show(low, dimension)} to {show(high, dimension)}")
        return (20 * math.log10(value), True) if absolute else (value, False)

    def _uncertainty(self, value: float, dimension: str, absolute: bool) -> float:
        text = self.cells.get("uncertainty", "").removeprefix("±").strip()
        if not text:
            raise self.fault("uncertainty", 'it is empty; write one standard deviation, such as "2 %" or with a unit')
        if dimension == "level":
            return self._doubt_of_level(text, value, absolute)
        percent = _PERCENT.fullmatch(text)
        found = float(percent[1]) / 100 * abs(value) if percent else self._parse("uncertainty", text, dimension)
        return self._usable(text, found)

    def _doubt_of_level(self, text: str, value: float, absolute: bool) -> float:
        match, percent = _DB.fullmatch(text.replace("−", "-")), _PERCENT.fullmatch(text)
        if match is not None:
            return self._usable(text, float(match[1]))
        if percent is not None:
            return self._usable(text, 20 / math.log(10) * float(percent[1]) / 100)
        if not absolute:
            raise self.fault("uncertainty", f'received {shown(text)}; write a level such as "0.3 dB" or "4 %"')
        share = self._parse("uncertainty", text, "voltage") / 10 ** (value / 20)
        return self._usable(text, 20 / math.log(10) * share)

    def _spread(self, column: str) -> float:
        """Uncertainty of a condition, SI; 0 where none is said."""
        text = self.cells.get(f"{column} uncertainty", "").removeprefix("±").strip()
        if not text:
            return 0.0
        value, percent = self._quantity(column), _PERCENT.fullmatch(text)
        found = float(percent[1]) / 100 * value if percent else self._parse(f"{column} uncertainty", text,
                                                                                         RANGES[column][0])
        if not 0 < found <= value / 2:
            raise self.fault(f"{column} uncertainty", f"received {shown(text)}; write one standard deviation, up to "
                                                      f"half of the {column}")
        return float(found)

    def _word(self, column: str, known: tuple[str, ...]) -> str:
        text = " ".join(self.cells.get(column, "").lower().split())
        if text and text not in known:
            raise self.fault(column, f"received {shown(text)}{near(text, known)}; write {' or '.join(known)}")
        return text

    def _usable(self, text: str, found: float) -> float:
        if not 1e-18 < found < 1e9:
            raise self.fault("uncertainty", f"received {shown(text)}; write one standard deviation, above 0")
        return found

    def _temperature(self) -> float:
        text = self.cells.get("temperature", "")
        if not text:
            return 20.0
        try:
            return read_temperature("temperature", text)
        except CaseError as error:
            raise self.fault("temperature", str(error).removeprefix("temperature: ")) from None

    def _load(self) -> BenchLoad:
        text = self.cells.get("load", "").lower()
        if text in ("", "none", "nothing"):
            return BenchLoad()
        if text == "case":
            return BenchLoad(own=True)
        capacitance, conductance = 0.0, 0.0
        for part in self.cells["load"].split("+"):
            farad = self._maybe(part, "capacitance")
            ohm = None if farad is not None else self._maybe(part, "resistance")
            if farad is not None and 0 < farad < 1e-6:
                capacitance += farad
            elif ohm is not None and 100 < ohm < 1e12:
                conductance += 1 / ohm
            else:
                raise self.fault("load", f'received {shown(self.cells["load"])}; write none, case, or what is '
                                         'connected, such as "470 pF" or "470 pF + 1 Mohm"')
        return BenchLoad(capacitance=capacitance, resistance=1 / conductance if conductance else math.inf)

    @staticmethod
    def _maybe(text: str, dimension: str) -> float | None:
        try:
            return parse(text, dimension)
        except CaseError:
            return None


def _one_unit_of_output(name: str, readings: tuple[Reading, ...]) -> None:
    """Outputs of one string are either levels or voltages: the two have no common drive."""
    first: dict[int | None, Reading] = {}
    for r in readings:
        if r.quantity != "output":
            continue
        before = first.setdefault(r.string, r)
        if before.absolute != r.absolute:
            raise CaseError(f'{name}, line {r.line}, column "value": string {r.string} has outputs in dB and in '
                            f"volts (line {before.line}); write one of them throughout")
