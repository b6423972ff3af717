"""What is said while many designs are computed: a bar on a terminal, a line now and then elsewhere."""

from __future__ import annotations

import io
import sys

import pytest

from stringflux.cases.terminal import progress

Printed = pytest.CaptureFixture[str]


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """A clock that only the test moves."""
    now = [100.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    return now


def test_lines_now_and_then_with_the_time_left(clock: list[float], capsys: Printed) -> None:
    with progress.shown_designs() as report:
        report(10, 50, 0)  # of an earlier run: they took none of this one's time
        for done in range(11, 51):
            clock[0] += 4
            report(done, 50, done // 20)
    out, err = capsys.readouterr()
    assert out == ""
    lines = err.splitlines()
    assert lines[0] == "13 of 50 designs, 3 min left"  # 37 of 4 s
    assert "25 of 50 designs, 1 failed, 2 min left" in lines
    assert lines[-1] == "50 of 50 designs, 2 failed"
    assert len(lines) == 14  # every third, and the last one


def test_a_bar_on_a_terminal(clock: list[float], monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    with progress.shown_designs() as report:
        report(0, 8, 0)
        clock[0] += 6
        report(2, 8, 1)
    said = terminal.getvalue()
    assert "2/8" in said
    assert "1 failed, 18 s left" in said


@pytest.mark.parametrize(
    ("seconds", "said"), [(0.2, "1 s"), (59.5, "60 s"), (61, "2 min"), (5399, "90 min"), (5400, "1.5 h")]
)
def test_times_as_people_say_them(seconds: float, said: str) -> None:
    assert progress.said_time(seconds) == said
