"""Processes that are told to end: the exit code, one line, nothing and nobody left."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from measure.soak import kills as soak_kills

PREDICT = ("predict", "bench-single", "--quality", "fine")
STUDY = ("compare", "baritone-six", "--vary", "row.face=1mm:2mm:40", "--rank", "output", "--quality", "draft",
         "--workers", "2")


def ended(words: tuple[str, ...], number: signal.Signals, wait: float, folder: Path) -> tuple[int, str]:
    """Exit code and words of a command that is told to end after `wait` s; it has left nobody behind."""
    process = soak_kills._start(words, folder / "cache")
    time.sleep(wait)
    process.send_signal(number)
    _, said = process.communicate(timeout=30)
    end = time.monotonic() + 2.0
    while soak_kills._session(process.pid):
        assert time.monotonic() < end
        time.sleep(0.05)
    return process.returncode, said


@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
@pytest.mark.parametrize("wait", [0.15, 0.4, 2.5])
def test_a_prediction(number: signal.Signals, wait: float, tmp_path: Path) -> None:
    code, said = ended((*PREDICT, "--out", str(tmp_path / "out")), number, wait, tmp_path)
    assert code == 128 + number
    assert said.splitlines()[-1] == "stringflux: stopped; nothing was written"
    assert "Traceback" not in said
    assert [p.name for p in tmp_path.iterdir() if p.name != "cache"] == []


@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_study(number: signal.Signals, tmp_path: Path) -> None:
    code, said = ended((*STUDY, "--out", str(tmp_path / "out")), number, 5.0, tmp_path)
    assert code == 128 + number
    assert "--resume" in said.splitlines()[-1]


def test_an_interrupt_that_python_swallows_comes_again() -> None:
    code = ("import os, signal, time\n"
            "from stringflux.cases import ending\n"
            "class Told:\n"
            "    def __del__(self): os.kill(os.getpid(), signal.SIGTERM); time.sleep(0.01)\n"
            "ending.orderly()\n"
            "Told()\n"
            "try: time.sleep(ending.GRACE - 0.5)\n"
            "except KeyboardInterrupt: print('heard', flush=True)\n"
            "ending.over(0)")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (128 + signal.SIGTERM, "heard\n", "")


def test_what_else_python_swallows_is_told() -> None:
    code = ("from stringflux.cases import ending\n"
            "class Broken:\n"
            "    def __del__(self): raise ValueError('a fault')\n"
            "ending.orderly()\n"
            "Broken()")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "ValueError: a fault" in done.stderr


@pytest.mark.slow
def test_workers_notice_that_their_parent_was_killed(tmp_path: Path) -> None:
    code, _ = ended((*STUDY, "--out", str(tmp_path / "out")), signal.SIGKILL, 5.0, tmp_path)
    assert code == -signal.SIGKILL


def test_an_impatient_person(tmp_path: Path) -> None:
    process = soak_kills._start((*PREDICT, "--out", str(tmp_path / "out")), tmp_path / "cache")
    time.sleep(2.0)
    for _ in range(5):
        process.send_signal(signal.SIGINT)
        time.sleep(0.02)
    _, said = process.communicate(timeout=30)
    assert process.returncode == 130
    assert "Traceback" not in said
    assert not (tmp_path / "out").exists()


def test_a_program_of_ones_own_keeps_its_signals() -> None:
    code = ("import signal; before = signal.getsignal(signal.SIGTERM); from stringflux.cases import load_case; "
            "from stringflux.cases.cli import main; main(['cases']); "
            "assert signal.getsignal(signal.SIGTERM) is before; "
            "assert signal.getsignal(signal.SIGINT) is signal.default_int_handler")
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)


@pytest.mark.parametrize(("where", "said"), [("> /dev/full", "there is no room left"), (">&-", "output is closed")])
def test_nowhere_to_write(where: str, said: str) -> None:
    done = subprocess.run(f"'{sys.executable}' -m stringflux.cases cases {where}", shell=True, capture_output=True,
                          text=True, check=False)
    assert done.returncode == 1
    (line,) = done.stderr.splitlines()
    assert line.startswith("stringflux: ")
    assert said in line


@pytest.mark.slow
@pytest.mark.parametrize(("placed", "said"), [("", "stopped; nothing was written"), ("ending.placing()", "stopped")])
def test_an_interruption_that_a_library_swallows(placed: str, said: str, tmp_path: Path) -> None:
    code = f"""
import os, signal, time
from pathlib import Path
from stringflux.cases import ending
from stringflux.cases.files.whole import beside
ending.orderly()
with beside(Path("held.csv")) as held:
    held.write_text("half of it")
    {placed}
    try:
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(30)
    except KeyboardInterrupt:
        time.sleep(30)
"""
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (128 + signal.SIGTERM, f"stringflux: {said}\n")
    assert list(tmp_path.iterdir()) == []


def test_python_does_not_look_through_all_that_was_loaded_before_it_goes() -> None:
    """That took 0.3 s of every command. The last word of the process counts what is looked through."""
    script = ("import atexit, gc, sys; atexit.register(lambda: print(len(gc.get_objects()), file=sys.stderr))\n"
              "from stringflux.cases.entry import main\n"
              "sys.argv = ['stringflux', 'predict', 'bench-single', '--quality', 'draft', '--json']\n"
              "sys.exit(main())")
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert int(run.stderr.split()[-1]) < 10_000  # of 118 000
