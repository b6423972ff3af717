"""docs/formats.md says what documents and tables really hold."""

from __future__ import annotations

import re

import pytest

from rigs.cases.envelope import HEAD
from rigs.source_tree import ROOT
from stringflux.cases.commands import impedance as command_impedance
from stringflux.cases.commands import readings as command_readings
from stringflux.cases.commands import verify as command_verify
from stringflux.cases.output import results
from stringflux.cases.output.document import SCHEMA
from stringflux.cases.studies.shape import files as shape_files

PAGE = (ROOT / "docs" / "formats.md").read_text(encoding="utf-8")
TABLES = {
    "strings.csv": results.COLUMNS, "impedance.csv": command_impedance.HEADS, "readings.csv": command_readings.HEADS,
    "verify.csv": command_verify.HEADS, "profile.csv": shape_files.HEADS,
}


@pytest.mark.parametrize("name", TABLES)
def test_heads(name: str) -> None:
    (said,) = re.findall(rf"^\| `{re.escape(name)}` \| `\w+` \| (.*) \|$", PAGE, re.MULTILINE)
    assert said.replace("\\|", "|").split(", ") == list(TABLES[name])


def test_keys_of_the_document() -> None:
    before, _, after = PAGE.partition("## CSV")
    assert re.findall(r"^\| `(\w+)` \|", before, re.MULTILINE) == HEAD
    assert f"| `schema` | {SCHEMA};" in before
    assert after
