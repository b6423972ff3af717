"""Tables as CSV: commas, one line of heads, points for decimals, lines end as on Unix.

A head is a name, a space, and the unit in plain letters (:func:`head`): "gap mm". Units of a row's own stand in a
column "unit".

A spreadsheet runs a cell that begins like a formula. What a person wrote as a name may begin so; such a text gets an
apostrophe in front, which spreadsheets take for "this is text". Numbers, and numbers with a unit, stay as they are.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable, Sequence

Cell = str | int | float | None

_FORMULA = tuple("=+-@\t\r")
_QUANTITY = re.compile(r"[+-]?[\d.]+(e[+-]?\d+)?( ?[A-Za-zµμΩ°%/]+)?", re.IGNORECASE)


def csv_text(heads: Iterable[str], rows: Iterable[Sequence[Cell]], form: str = ".6g") -> str:
    """A table as text.

    Parameters
    ----------
    heads : iterable of str
        One for every column, the unit in it (:func:`head`).
    rows : iterable of sequences
        None, and with a `form` also a number that is not finite, become an empty cell.
    form : str
        How floats are written: six digits, as nothing here is known better; "" writes all that they have, nan and inf
        as such, for a table that is read by programs.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([harmless(head) for head in heads])
    writer.writerows([_cell(cell, form) for cell in row] for row in rows)
    return text.getvalue()


def head(name: str, unit: str) -> str:
    """The head of a column of numbers, "" for what has no unit.

    >>> head("gap", "mm"), head("string", "")
    ('gap mm', 'string')
    """
    return f"{name} {unit}".strip()


def harmless(text: str) -> str:
    """A text that no spreadsheet runs.

    >>> harmless("=HYPERLINK(1)"), harmless("-0.5 mm")
    ("'=HYPERLINK(1)", '-0.5 mm')
    """
    said = f"'{text}" if text.startswith(_FORMULA) and not _QUANTITY.fullmatch(text) else text
    return said.replace("\r", " ")  # the writer of Python 3.11 leaves it bare, and readers stop there


def _cell(cell: Cell, form: str) -> str | int:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return harmless(cell)
    if isinstance(cell, float):  # numpy's float64 is one
        return (format(cell, form) if math.isfinite(cell) else "") if form else repr(float(cell))
    return cell
