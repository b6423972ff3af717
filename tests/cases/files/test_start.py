"""`stringflux start`: the file it writes computes as it is, and the lines it prints can be copied."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from rigs.source_tree import ROOT
from stringflux.cases.cli import main
from stringflux.cases.files.load import TEMPLATE, load_case
from stringflux.cases.jobs.plucked import bridge_distance


@pytest.mark.parametrize("name", ["my-pickup.toml", "my pickup's.toml", "new folder/x;y.toml"])
@pytest.mark.parametrize("way", ["on the path", "by its place", "as a module"])
def test_printed_line_runs(tmp_path: Path, name: str, way: str) -> None:
    (tmp_path / name).parent.mkdir(exist_ok=True)
    program = tmp_path / "the bin" / "stringflux"
    program.parent.mkdir()
    program.write_text(f"#!{sys.executable}\nimport sys\nfrom stringflux.cases.cli import main\nsys.exit(main())\n",
                       encoding="utf-8")
    program.chmod(0o755)
    path = f"{program.parent}{os.pathsep}{os.environ['PATH']}" if way == "on the path" else os.defpath
    begin = {"on the path": ["stringflux"], "by its place": ["the bin/stringflux"],
             "as a module": [sys.executable, "-m", "stringflux.cases"]}[way]
    run = {"cwd": tmp_path, "env": {**os.environ, "PATH": path}, "check": True, "capture_output": True, "text": True}
    printed = subprocess.run([*begin, "start", name], **run).stdout  # type: ignore[call-overload]
    first, check, predict = printed.splitlines()
    assert first == f"Wrote {name}. Edit it, then:"
    assert (check.split()[0] == "stringflux") == (way == "on the path")
    assert predict == check.replace("check-case", "predict")
    said = subprocess.run(["bash", "-c", check.strip()], **run).stdout  # type: ignore[call-overload]
    assert "The case is good." in said


def test_template_says_what_signal_and_pull_need() -> None:
    assert bridge_distance(load_case(TEMPLATE)) == pytest.approx(95e-3)


def test_first_commands_of_the_readme(tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
                                     capsys: pytest.CaptureFixture[str]) -> None:
    """As written, one after the other; the long ones and all others: tests/slow/test_readme_commands.py."""
    monkeypatch.chdir(tmp_path)
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    lines = re.findall(r"^stringflux ((?:start|check-case|wind|signal|pull) my-pickup\.toml.*)$", text, re.MULTILINE)
    assert len(lines) == 7
    for line in lines:
        assert main(shlex.split(line, comments=True)) == 0, capsys.readouterr().err
    assert {path.name for path in tmp_path.iterdir()} == {"my-pickup.toml", "results"}


def test_start_inside_a_program(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["start", str(tmp_path / "a.toml")]) == 0
    assert f"  stringflux check-case {tmp_path / 'a.toml'}" in capsys.readouterr().out
