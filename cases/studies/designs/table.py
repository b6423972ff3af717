"""The table of a study: every design with its inputs and figures, as CSV and as Parquet.

All numbers are SI, to the last digit. An input that is a number has two columns, as the case says it and in SI. In
Parquet a column's metadata holds `unit`, `title` and `shown` (the unit people read it in); in CSV the unit stands in
the header, "inductance H". Designs stand in the study's order, so the same study gives the same bytes however it was
computed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from ...files.whole import write_whole
from ...output.csv_table import csv_text
from ...output.parquet import TableColumn, parquet_bytes
from ..engine.task import Outcome
from .outputs import figure_of

CSV, PARQUET = "table.csv", "table.parquet"


class Written(Protocol):
    """A value of an input: as a person wrote it, and in SI, or again its words where it is no number."""

    @property
    def text(self) -> str: ...
    @property
    def si(self) -> float | str: ...


class Described(Protocol):
    """What is known of a figure: SI unit, the unit people read, title."""

    @property
    def unit(self) -> str: ...
    @property
    def shown(self) -> str: ...
    @property
    def title(self) -> str: ...


@dataclass(frozen=True, kw_only=True)
class InputColumn:
    """An input of a study.

    Attributes
    ----------
    name : str
        The field's path in the case, "strings.gap".
    unit : str
        SI, "" for a pure number or words.
    title : str
    values : sequence of Written
        One for every design.
    shown : str
        The unit people read it in; the SI one if "".
    """

    name: str
    values: Sequence[Written]
    unit: str = ""
    title: str = ""
    shown: str = ""


def write_table(
    folder: Path,
    outcomes: Sequence[Outcome],
    *,
    inputs: Sequence[InputColumn] = (),
    figure: Callable[[str], Described] = figure_of,
) -> tuple[Path, Path]:
    """Write ``table.csv`` and ``table.parquet``; their paths.

    The first column, "design", counts from 1; the last, "failure", is empty for a design that did not fail.

    Parameters
    ----------
    folder : path
    outcomes : sequence of Outcome
        As `run_study` gives them.
    inputs : sequence of InputColumn
        With values in the order of `outcomes`.
    figure : callable
        From the name of a value to what is known of it.

    Raises
    ------
    WriteError
        If the disk is full.
    """
    columns = _columns(outcomes, inputs, figure)
    paths = folder / CSV, folder / PARQUET
    write_whole(paths[0], _csv(columns))
    write_whole(paths[1], parquet_bytes(columns))
    return paths


def _columns(
    outcomes: Sequence[Outcome], inputs: Sequence[InputColumn], figure: Callable[[str], Described]
) -> list[TableColumn]:
    numbers = [o.number + 1 for o in outcomes]
    columns = [TableColumn(name="design", values=numbers, title="Number of the design, from 1")]
    for given in inputs:
        columns += _input(given)
    for name in dict.fromkeys(name for outcome in outcomes for name in outcome.values):
        told = figure(name)
        values = [outcome.values.get(name) for outcome in outcomes]
        columns.append(TableColumn(name=name, values=values, unit=told.unit, title=told.title, shown=told.shown))
    failures = [o.failure for o in outcomes]
    return [*columns, TableColumn(name="failure", values=failures, title="Why the design failed")]


def _input(given: InputColumn) -> list[TableColumn]:
    numbers = [float(v.si) if isinstance(v.si, float | int) else None for v in given.values]
    texts, title = [v.text for v in given.values], given.title or given.name
    if all(number is None for number in numbers):
        return [TableColumn(name=given.name, values=texts, title=title)]
    shown = given.shown or given.unit
    return [
        TableColumn(name=f"{given.name} as written", values=texts, title=f"{title}, as written"),
        TableColumn(name=given.name, values=numbers, unit=given.unit, title=title, shown=shown),
    ]


def _csv(columns: Sequence[TableColumn]) -> bytes:
    rows = zip(*(column.values for column in columns), strict=True)
    return csv_text((column.head for column in columns), rows, form="").encode()
