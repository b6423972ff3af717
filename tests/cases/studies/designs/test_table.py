"""The table of a study as CSV and Parquet: text and SI of every input, units in header and metadata."""

from __future__ import annotations

import csv
import math
import os
from dataclasses import dataclass
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from stringflux.cases.files import whole as whole_file
from stringflux.cases.studies.designs import table as study_table
from stringflux.cases.studies.designs.table import InputColumn, write_table
from stringflux.cases.studies.engine.task import Outcome
from stringflux.geometry.errors import WriteError


@dataclass(frozen=True)
class Value:
    text: str
    si: float | str


GAPS = (Value("1.5 mm", 0.0015), Value("3/32 in", 0.00238125), Value("0.3 cm", 0.003))
INPUTS = (
    InputColumn(name="strings.gap", unit="m", shown="mm", title="Gap", values=GAPS),
    InputColumn(name="pole.part.material", values=[Value(m, m) for m in ("alnico-5", 'odd, "µ"', "alnico-2")]),
    InputColumn(name="coil.turns", values=[Value("5000", 5000.0), Value("any", "any"), Value("7", 7.0)]),
)
OUTCOMES = (
    Outcome(number=0, values={"inductance": 1 / 3, "string_2_output": 1e-300}),
    Outcome(number=1, failure="it did not\nsettle"),
    Outcome(number=2, values={"inductance": math.nan, "string_2_output": math.inf, "output": 0.1}),
)


def test_csv(tmp_path: Path) -> None:
    path, _ = write_table(tmp_path, OUTCOMES, inputs=INPUTS)
    assert path.name == "table.csv"
    head, *rows = csv.reader(path.read_text(encoding="utf-8").splitlines(keepends=True))
    assert head == [
        "design", "strings.gap as written", "strings.gap m", "pole.part.material", "coil.turns as written",
        "coil.turns", "inductance H", "string_2_output V", "output V", "failure",
    ]  # fmt: skip
    assert rows[0] == ["1", "1.5 mm", "0.0015", "alnico-5", "5000", "5000.0", "0.3333333333333333", "1e-300", "", ""]
    odd = 'odd, "µ"'
    assert rows[1] == ["2", "3/32 in", "0.00238125", odd, "any", "", "", "", "", "it did not\nsettle"]
    assert rows[2] == ["3", "0.3 cm", "0.003", "alnico-2", "7", "7.0", "nan", "inf", "0.1", ""]


def test_parquet(tmp_path: Path) -> None:
    _, path = write_table(tmp_path, OUTCOMES, inputs=INPUTS)
    assert path.name == "table.parquet"
    table = pq.read_table(path)

    def about(name: str) -> dict[bytes, bytes]:
        metadata = table.schema.field(name).metadata or {}
        return {key: value for key, value in metadata.items() if not key.startswith(b"PARQUET")}

    assert about("strings.gap") == {b"unit": b"m", b"title": b"Gap", b"shown": b"mm"}
    assert about("inductance") == {b"unit": b"H", b"title": b"Inductance, poles in place", b"shown": b"H"}
    assert about("string_2_output")[b"shown"] == b"mV"
    assert about("coil.turns")[b"unit"] == b""
    columns = table.to_pydict()
    assert columns["design"] == [1, 2, 3]
    assert columns["strings.gap"] == [value.si for value in GAPS]
    assert columns["strings.gap as written"] == [value.text for value in GAPS]
    assert columns["coil.turns"] == [5000.0, None, 7.0]
    assert columns["inductance"][:2] == [1 / 3, None]
    assert math.isnan(columns["inductance"][2])
    assert columns["failure"] == ["", "it did not\nsettle", ""]


def test_nothing_but_failures_and_nothing_at_all(tmp_path: Path) -> None:
    write_table(tmp_path, [Outcome(number=0, failure="no")], inputs=[InputColumn(name="a", values=[Value("x", "x")])])
    assert pq.read_table(tmp_path / "table.parquet").to_pydict() == {"design": [1], "a": ["x"], "failure": ["no"]}
    write_table(tmp_path, [])
    assert pq.read_table(tmp_path / "table.parquet").num_rows == 0
    assert (tmp_path / "table.csv").read_text() == "design,failure\n"


def test_the_old_table_stays_when_the_disk_is_full(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_table(tmp_path, OUTCOMES[:1])
    before = (tmp_path / study_table.CSV).read_bytes()

    def full(file: int) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(whole_file.os, "fsync", full)
    with pytest.raises(WriteError, match=r"table\.csv cannot be written \(No space left on device\)"):
        write_table(tmp_path, OUTCOMES)
    assert (tmp_path / study_table.CSV).read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["table.csv", "table.parquet"]
