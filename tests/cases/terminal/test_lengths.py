"""Inches beside millimetres where, and only where, the case writes that length in inches."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from stringflux.cases.cli import main
from stringflux.cases.files.load import read_content
from stringflux.cases.terminal.lengths import Inches, written_in_inches


@pytest.mark.parametrize(("changes", "found"), [
    ({}, Inches()),
    ({"string.1.gauge": "0.017 in", "strings.scale": "25.5 in"}, Inches()),
    ({"strings.gap": "3/32 in"}, Inches(gap=True)), ({"string.1.gap": "95 mil"}, Inches(gap=True)),
    ({"row.face": ['1/16"']}, Inches(face=True)), ({"row.face": "0.06 in"}, Inches(face=True)),
    ({"strings.gap": "2.5 mm", "row.face": "1.5 mm"}, Inches()),
])
def test_what_a_case_writes(changes: dict[str, object], found: Inches) -> None:
    assert written_in_inches(read_content("bench-single", changes)) == found


@pytest.mark.parametrize("command", ["check-case", "pull", "predict"])
def test_tables(command: str, capsys: pytest.CaptureFixture[str], tmp_path: Path,
                monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)  # check-case draws
    rough = [] if command == "check-case" else ["--quality", "draft"]
    assert main([command, "bench-single", "--set", "strings.gap=3/32 in", *rough]) == 0
    assert re.search(r"2\.38 \(0\.094\)", capsys.readouterr().out)
