"""`stringflux start --ask`: every answer is read as the file's key is, and nothing is there before the last one."""

from __future__ import annotations

import io
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from stringflux.cases import load_case
from stringflux.cases.cli import main
from stringflux.cases.files.load import TEMPLATE, read_toml

ANSWERS = ("Low one", "3", "0.1 in w, 0.5 mm w, 0.3mm", "E2,A2,D3", "650 mm", "10 mm", "", "60 mm", "alnico-2",
           "3/16 in", "15 mm", "south up", "", "", "", "1/2 in", "", "", "43 AWG", "", "2mm,2.5 mm, 3 mm")
QUESTIONS = 21


def answered(monkeypatch: pytest.MonkeyPatch, path: Path, lines: list[str], *, by_hand: bool = False) -> int:
    given = io.StringIO("".join(f"{line}\n" for line in lines))
    if by_hand:
        monkeypatch.setattr(given, "isatty", lambda: True)
    monkeypatch.setattr(sys, "stdin", given)
    return main(["start", str(path), "--ask"])


def test_empty_lines_take_what_stands_in_brackets(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Which is the template but for what follows from other answers: length of the bobbin, turns that fill it."""
    assert answered(monkeypatch, tmp_path / "a.toml", [""] * QUESTIONS) == 0
    found, template = read_toml(tmp_path / "a.toml"), read_toml(TEMPLATE)
    assert {**found, "coil": {}} == {**template, "coil": {}}
    assert found["coil"] == {**template["coil"], "inner_length": "57 mm", "turns": 7500}
    text = (tmp_path / "a.toml").read_text(encoding="utf-8")
    assert "stringflux check-case a.toml" in text
    assert text.count("\n#") > 100


def test_a_case_by_answers_of_ones_own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path,
                                       capsys: pytest.CaptureFixture[str]) -> None:
    assert answered(monkeypatch, tmp_path / "a.toml", [*ANSWERS]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("Wrote ")
    assert err.count("]: ") == QUESTIONS
    case, content = load_case(tmp_path / "a.toml"), read_toml(tmp_path / "a.toml")
    assert case.title == "Low one"
    assert [s.core for s in case.string] == pytest.approx([0.04 * 25.4e-3, 0.2e-3, None])
    assert [s["gap"] for s in content["string"]] == ["2mm", "2.5 mm", "3 mm"]
    assert content["coil"]["outer_width"] == "1/2 in"
    assert content["pole"][0]["part"][0]["diameter"] == "3/16 in"
    assert (tmp_path / "a.toml").read_text(encoding="utf-8").count("# 0.4 of the gauge") == 2


def test_one_string_has_no_spacing_and_a_round_coil(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    assert answered(monkeypatch, tmp_path / "a.toml", ["", "1", *[""] * (QUESTIONS - 5)]) == 0
    content = read_toml(tmp_path / "a.toml")
    assert "inner_length" not in content["coil"]
    assert "spacing" not in content["row"]
    assert len(content["string"]) == 1


@pytest.mark.parametrize(
    ("at", "answer", "words"),
    [
        (1, "thirteen", "How many strings: received"),
        (2, "0.046", "write 6, with commas"),
        (4, "25.5", "has no unit"),
        (8, "alnico-55", "no magnet of the table"),
        (11, "up", "north up"),
        (15, "4 mm", "outer_width"),
        (17, "-13 mm", "top"),
        (18, "39 AWG", "40 to 46 AWG"),
        (19, "90000", "cannot fit a window"),
        (20, "-2 mm", "Gap between pole and string"),
        (9, "11 mm", "the poles are 10.4 mm apart; write 10.4 mm at most"),
        (13, "4.7 mm", "the poles inside take 4.8 mm"),
        (14, "56 mm", "the poles inside take 56.8 mm"),
        (12, "-20 mm", "the answers together are no case"),
    ],
)
def test_the_first_fault_from_a_pipe_ends_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str], at: int, answer: str,
    words: str,
) -> None:
    lines = [""] * QUESTIONS
    lines[at] = answer
    assert answered(monkeypatch, tmp_path / "a.toml", lines) == 2
    line = capsys.readouterr().err.splitlines()[-1]
    assert line.startswith("stringflux: --ask: ")
    assert words in line
    assert list(tmp_path.iterdir()) == []


def test_answers_that_end_midway(monkeypatch: pytest.MonkeyPatch, tmp_path: Path,
                                 capsys: pytest.CaptureFixture[str]) -> None:
    assert answered(monkeypatch, tmp_path / "a.toml", [""] * (QUESTIONS - 1)) == 2
    assert 'the answers end before "Gap between pole' in capsys.readouterr().err.splitlines()[-1]
    assert list(tmp_path.iterdir()) == []


def test_at_a_terminal_it_asks_again(monkeypatch: pytest.MonkeyPatch, tmp_path: Path,
                                     capsys: pytest.CaptureFixture[str]) -> None:
    """What is no answer by the same question, what is no case by all of them, with the answers of before."""
    first = ["Mine", "many", "6", *[""] * 10, "-20 mm", *[""] * (QUESTIONS - 13)]  # poles under their strings' coil
    again = [""] * 12 + ["1.5 mm", *[""] * (QUESTIONS - 13)]
    assert answered(monkeypatch, tmp_path / "a.toml", [*first, *again], by_hand=True) == 0
    err = capsys.readouterr().err
    assert 'received "many"' in err
    assert "Together that cannot be: " in err
    assert err.count("Title [My pickup]: ") == err.count("Title [Mine]: ") == 1
    assert load_case(tmp_path / "a.toml").title == "Mine"


def test_a_file_that_is_there_is_refused_before_the_first_question(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "a.toml").touch()
    assert answered(monkeypatch, tmp_path / "a.toml", []) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert "already there" in line
    assert main(["start", str(tmp_path / "b.toml"), "--ask", "--like", "bench-single"]) == 2


def test_ctrl_c_leaves_nothing(tmp_path: Path) -> None:
    program = [sys.executable, "-m", "stringflux.cases", "start", "a.toml", "--ask"]
    with subprocess.Popen(program, cwd=tmp_path, stdin=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as running:
        assert running.stdin is not None
        assert running.stderr is not None
        running.stdin.write("Mine\n6\n")
        running.stdin.flush()
        said = ""
        while "Gauges" not in said:
            said += running.stderr.read(1)
        running.send_signal(signal.SIGINT)
        assert running.wait(timeout=20) == 130
        assert "nothing was written" in running.stderr.read()
    assert list(tmp_path.iterdir()) == []
