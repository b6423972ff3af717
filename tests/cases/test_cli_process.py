"""The command line as a process of its own: the whole job, Ctrl-C in the middle, a reader that goes away."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Mapping
from pathlib import Path


def run(*args: str, env: Mapping[str, str] | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "stringflux.cases", *args],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", **(env or {})},
    )


def test_the_whole_job_as_a_process(tmp_path: Path) -> None:
    out = tmp_path / "deep" / "bench"
    done = run("predict", "bench-single", "--quality", "draft", "--json", "--out", str(out))
    assert done.returncode == 0, done.stderr
    assert done.stdout == (out / "prediction.json").read_text(encoding="utf-8")
    names = {path.name for path in out.iterdir()}
    pictures = {f"{n}.{k}" for n in ("drawing", "section", "fields", "linkage", "balance") for k in ("png", "svg")}
    assert pictures | {"strings.csv", "field.vtu", "mesh.msh", "prediction.json"} <= names
    assert ("scene.png" in names) != ("no scene.png" in done.stderr)
    assert "Results:" in done.stderr


def test_ctrl_c_in_the_middle(tmp_path: Path) -> None:
    out = tmp_path / "out"
    process = subprocess.Popen(
        [sys.executable, "-m", "stringflux.cases", "predict", "bench-single", "--quality", "fine", "--out", str(out)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stderr is not None
    process.stderr.readline()  # the first stage has begun
    time.sleep(0.1)
    process.send_signal(signal.SIGINT)
    printed, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert printed == ""
    assert err.splitlines()[-1] == "stringflux: stopped; nothing was written"
    assert "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


def test_a_reader_that_goes_away_is_no_fault() -> None:
    done = subprocess.run(
        f"'{sys.executable}' -m stringflux.cases schema | head -n 1",
        shell=True,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout == "{\n"
    assert done.stderr == ""
