"""A report as one HTML file: what it is made of, and how it becomes a page.

Everything here is words and pictures already; what they say is decided in the modules `report_*`. The page needs
no network: style and pictures are inside it, there is no script, and a content policy in it forbids both to load.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import ClassVar

TEMPLATES = Path(__file__).with_name("templates")
SHORT = 9
"""Rows of a table that stays on one page in print."""
GENERATOR = "stringflux report"
"""By this word in its head a file is known to be a report of ours, which a new one may replace."""


@dataclass(frozen=True, kw_only=True)
class PageColumn:
    """Head and cells of a column.

    Attributes
    ----------
    head, unit : str
    cells : tuple of str
    words : bool
        Whether the cells are words (left) or numbers (right, in line).
    blank : bool
        Whether they are left to be written into.
    """

    head: str
    unit: str = ""
    cells: tuple[str, ...]
    words: bool = False
    blank: bool = False


@dataclass(frozen=True, kw_only=True)
class ReportTable:
    """A table; its first column names the rows. `note` stands under it."""

    kind: ClassVar[str] = "table"
    caption: str
    columns: tuple[PageColumn, ...]
    note: str = ""

    @property
    def short(self) -> bool:
        """Whether it is so short that no page is to be turned within it."""
        return len(self.columns[0].cells) <= SHORT

    def rows(self) -> Iterator[tuple[tuple[PageColumn, str], ...]]:
        """Cells row by row, each with its column."""
        for cells in zip(*(c.cells for c in self.columns), strict=True):
            yield tuple(zip(self.columns, cells, strict=True))


@dataclass(frozen=True, kw_only=True)
class ReportFigure:
    """A picture.

    Attributes
    ----------
    name : str
    source : str
        ``data:`` address with the picture in it.
    width, height : int
        In pixels of 1/96 inch.
    alt : str
        What it shows, for those who do not see it.
    caption : str
    narrow : str
        The same for a phone, its panels one under the other; "" where it is only made smaller.
    """

    kind: ClassVar[str] = "figure"
    name: str
    source: str
    width: int
    height: int
    alt: str
    caption: str
    narrow: str = ""


@dataclass(frozen=True, kw_only=True)
class ReportSound:
    """A sound to play; `source` is a ``data:`` address."""

    kind: ClassVar[str] = "sound"
    source: str
    caption: str


@dataclass(frozen=True, kw_only=True)
class ReportList:
    """Points, each with a few words in bold before it (or none)."""

    kind: ClassVar[str] = "list"
    items: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class ReportText:
    """A text file as it is, folded away under a heading."""

    kind: ClassVar[str] = "text"
    title: str
    text: str


Part = ReportTable | ReportFigure | ReportSound | ReportList | ReportText


@dataclass(frozen=True, kw_only=True)
class ReportSection:
    """A chapter: its anchor, title, paragraphs, then its parts; a `sheet` is a page of its own in print."""

    key: str
    title: str
    words: tuple[str, ...] = ()
    parts: tuple[Part, ...] = ()
    sheet: bool = False


@dataclass(frozen=True, kw_only=True)
class KeyFigure:
    """One of the numbers at the top: what, how much, and a line under it."""

    name: str
    value: str
    under: str = ""


@dataclass(frozen=True, kw_only=True)
class Report:
    """The whole page; `facts` are pairs of words under the title."""

    title: str
    note: str = ""
    facts: tuple[tuple[str, str], ...] = ()
    summary: str
    figures: tuple[KeyFigure, ...] = ()
    sections: tuple[ReportSection, ...] = field(default=())


def render(report: Report, made: datetime) -> str:
    """The page as text.

    Parameters
    ----------
    report : Report
    made : datetime
        Date that the page tells.

    Examples
    --------
    Whatever a case says is shown and never obeyed:

    >>> page = render(Report(title="<script>", summary=""), datetime(2026, 1, 31))
    >>> "<h1>&lt;script&gt;</h1>" in page, "<script" in page
    (True, False)
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    pages = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined,
                        trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True)
    style = (TEMPLATES / "report.css").read_text(encoding="utf-8")
    return pages.get_template("report.html").render(
        report=report, style=style, generator=GENERATOR, date=f"{made.day} {made:%B %Y}", iso=f"{made:%Y-%m-%d}")


def numbers(head: str, cells: Sequence[str], unit: str = "") -> PageColumn:
    """A column of numbers."""
    return PageColumn(head=head, unit=unit, cells=tuple(cells))


def words(head: str, cells: Sequence[str], unit: str = "") -> PageColumn:
    """A column of words."""
    return PageColumn(head=head, unit=unit, cells=tuple(cells), words=True)
