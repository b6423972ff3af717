"""Tables for the terminal: plain, aligned, units in the heads."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rich import box
from rich.console import Console
from rich.measure import Measurement
from rich.table import Table
from rich.text import Text

WIDTH, LEAST = 100, 80  # columns: where no terminal says how many, and what the tables need


@dataclass(frozen=True, kw_only=True)
class Column:
    """Head (words above, unit below) and cells of a column."""

    head: str
    cells: tuple[str, ...]


def console() -> Console:
    """Standard output as a place for tables."""
    found = Console(highlight=False)
    told = found.is_terminal or "COLUMNS" in os.environ
    # under the least width lines run over the edge, which is better than numbers cut off
    return Console(highlight=False, width=max(found.width, LEAST) if told else WIDTH)


def over_the_edge() -> Console:
    """Standard output for a table that is too wide for it: lines run on, no number is cut off."""
    return Console(highlight=False, width=1000)


def table(title: str, columns: Sequence[Column], *, left: int = 0, loose: bool = True) -> Table:
    """A table without a frame; the first `left` columns are words, the others numbers."""
    made = Table(
        title=f"\n{title}",
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        show_edge=False,
        padding=(0, int(loose), 0, 0),
    )
    for i, column in enumerate(columns):
        made.add_column(Text(column.head), justify="left" if i < left else "right", no_wrap=True)
    for row in zip(*(c.cells for c in columns), strict=True):
        made.add_row(*(Text(cell) for cell in row))
    return made


def headed(title: str, columns: Mapping[str, Sequence[str]], *, left: int = 0) -> Table:
    """A table from cells by head."""
    return table(title, [Column(head=head, cells=tuple(cells)) for head, cells in columns.items()], left=left)


def fitting(title: str, columns: Sequence[Column], to: Console, *, left: int = 0) -> Table | None:
    """The table with its columns well apart, or else close together; None if it is still too wide."""
    wide = to.options.update(width=1000)
    for loose in (True, False):
        made = table(title, columns, left=left, loose=loose)
        if Measurement.get(to, wide, made).maximum <= to.width:
            return made
    return None


def digits(value: float) -> str:
    """Three digits, more where whole numbers need them, and no powers of ten.

    Examples
    --------
    >>> [digits(v) for v in (0.0123, 1.5, 12.34, 1234.5)]
    ['0.01', '1.50', '12.3', '1234']
    """
    places = 2 if abs(value) < 9.995 else 1 if abs(value) < 99.95 else 0
    text = f"{value:.{places}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def or_dash(value: float | None, form: str) -> str:
    """A number in a form of :meth:`str.format`; a dash for none."""
    return "–" if value is None else form.format(value)
