"""`stringflux start`: the file it writes computes as it is, and the lines it prints can be copied."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from rigs.source_tree import ROOT
from stringflux.cases.cli import main
from stringflux.cases.files.commented import ABSENT
from stringflux.cases.files.load import TEMPLATE, find_case, load_case, read_toml, shipped_cases
from stringflux.cases.jobs.plucked import bridge_distance


@pytest.mark.slow
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


@pytest.mark.slow
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


@pytest.mark.parametrize("name", shipped_cases())
def test_like_a_case_says_the_same_with_every_key_told(name: str, tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    assert main(["start", str(path), "--like", name]) == 0
    text = path.read_text(encoding="utf-8")
    assert read_toml(path) == read_toml(find_case(name))
    written = [line for line in find_case(name).read_text(encoding="utf-8").splitlines() if "=" in line]
    assert [line for line in text.splitlines() if line in written] == written  # units and remarks as they were
    assert text.startswith("# A case for stringflux.")
    assert "stringflux check-case mine.toml" in text
    for words in ("Number of turns.", "Sounding length of the open string.", "It could also say: "):
        assert text.count(f"# {words}") >= 1
    assert text.count("# Number of turns.") == 1


@pytest.mark.parametrize("name", ["bench-single", "stacked-six", "blade-six"])
def test_like_a_case_names_the_tables_that_it_does_not_have_once(name: str, tmp_path: Path) -> None:
    """Every table of a case stands in the file, as such or in its last remark; started again, none is doubled."""
    assert main(["start", str(tmp_path / "a.toml"), "--like", name]) == 0
    assert main(["start", str(tmp_path / "b.toml"), "--like", str(tmp_path / "a.toml")]) == 0
    content = tomllib.loads(find_case(name).read_text(encoding="utf-8"))
    for file in ("a.toml", "b.toml"):
        text = (tmp_path / file).read_text(encoding="utf-8")
        absent = " ".join(text.partition(ABSENT)[2].replace("#", " ").split())
        assert text.count(ABSENT) == 1
        for table in ("body", "second_coil", "connection", "lead", "load", "height_screws", "conditions", "scatter"):
            assert (f"[{table}]" in absent) != (table in content), table
    if name != "stacked-six":
        assert "[lead] The pickup's own lead, up to the controls. Its keys: length, capacitance." in absent


def test_like_a_case_with_other_values_and_old_words(tmp_path: Path) -> None:
    old = tmp_path / "old.toml"
    old.write_text('note = """\nturns = 1\n"""\n' + find_case("bench-single").read_text(encoding="utf-8").replace(
        'wire = "42 AWG"', 'wire = "42 AWG"\nwinding = "clockwise (from above)"'), encoding="utf-8")
    assert main(["start", str(tmp_path / "new.toml"), "--like", str(old), "--set", "coil.turns=4000"]) == 0
    new = read_toml(tmp_path / "new.toml")
    assert new == {**read_toml(old), "coil": {**read_toml(old)["coil"], "turns": 4000}}
    assert "# Number of turns.\nturns = 4000\n" in (tmp_path / "new.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["--like", "nowhere"], "neither a file nor a shipped case"),
        (["--like", "bench-single", "--set", "coil.turns=-1"], "coil, turns: received"),
        (["--set", "coil.turns=1"], "--set: received without --like"),
    ],
)
def test_what_start_refuses(args: list[str], words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["start", str(tmp_path / "a.toml"), *args]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert words in line
    assert list(tmp_path.iterdir()) == []
