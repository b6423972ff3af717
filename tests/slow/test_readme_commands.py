"""Every command of README and docs, as written, one after the other in one folder, as a reader would type them.

Text is taken from the shell blocks and from code in sentences; a line with words in capitals (CASE, DIR) only names a
command. A Dask scheduler and its worker run in the background until the end, as in terminals of their own.
"""

from __future__ import annotations

import json
import os
import re
import shlex
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from rigs.source_tree import ROOT

PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
WRITTEN = {"results", "my-pickup.toml"}  # all else belongs into the results
LEAST_GAIN = 0.05  # of what the example of shape is for; less is not worth a walk to the lathe
LEAST_NARROWER = 0.02  # of the aperture of the chisel; the example tells 4 %


def steps() -> Iterator[str]:
    """Command lines and Python programs, in the order of the pages."""
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        for found in re.finditer(r"^```(sh|python)\n(.*?)^```|`(stringflux [^`]+)`", text, re.MULTILINE | re.DOTALL):
            language, block, said = found.groups()
            if said:
                line = " ".join(said.split())
                if not re.search(r" [A-Z]{2,}\b", line) and len(line.split()) > 2 and "-completion" not in line:
                    yield line
            elif language == "python":
                yield f"python -c {shlex.quote(block)}"
            else:
                yield from (line for line in block.splitlines() if re.match(r"stringflux |dask ", line))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("reader") / "here"


def environment(folder: Path) -> dict[str, str]:
    """The commands on the path, what is kept between them in a place of its own."""
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    return {**os.environ, "PATH": path, "STRINGFLUX_CACHE": str(folder.with_name("cache")),
            "STRINGFLUX_STATE": str(folder.with_name("state")), "BROWSER": "true"}


@pytest.fixture(scope="module")
def background(folder: Path) -> Iterator[list[subprocess.Popen[bytes]]]:
    begun: list[subprocess.Popen[bytes]] = []
    yield begun
    for process in reversed(begun):
        process.terminate()
    for process in begun:
        process.wait(timeout=30)


def looked_at(line: str, folder: Path) -> list[str]:
    """A page is opened, and ended by Ctrl-C."""
    process = subprocess.Popen(shlex.split(line), cwd=folder, env=environment(folder), text=True, bufsize=1,
                               stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    assert process.stdout is not None
    said = process.stdout.readline()
    process.send_signal(signal.SIGINT)
    rest, _ = process.communicate(timeout=30)
    if said.startswith("The page: http://127.0.0.1:") and process.returncode == 130:
        return []
    return [f"{line}\n    exit {process.returncode}: {said}{rest[-500:]}"]


def test_every_command_in_order(folder: Path, background: list[subprocess.Popen[bytes]]) -> None:
    folder.mkdir()
    faults = []
    lines = list(steps())
    assert len(lines) > 30
    for line in lines:
        begin = time.perf_counter()
        if line.startswith("dask "):
            background.append(subprocess.Popen(["bash", "-c", f"exec {line}"], cwd=folder, env=environment(folder),
                                               stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL))
            time.sleep(5)  # as long as it takes to type the next line
            if background[-1].poll() is not None:
                faults.append(f"{line}\n    ended with {background[-1].returncode}")
            continue
        if line.startswith("stringflux live ") and "--export" not in line:
            faults += looked_at(line, folder)
            continue
        done = subprocess.run(["bash", "-c", line], cwd=folder, env=environment(folder), stdin=subprocess.DEVNULL,
                              capture_output=True, text=True, check=False)
        print(f"{time.perf_counter() - begin:6.1f} s  {line.splitlines()[0]}", flush=True)
        if done.returncode or "Traceback" in done.stderr:
            faults.append(f"{line}\n    exit {done.returncode}: {done.stderr[-500:]}")
        strange = {path.name for path in folder.iterdir()} - WRITTEN
        if strange:
            faults.append(f"{line}\n    wrote {', '.join(strange)} beside the results")
            for name in strange:
                (folder / name).rename(folder.with_name(name))
    assert not faults, "\n".join(faults)
    shape_example_gains_something(folder)


def shape_example_gains_something(folder: Path) -> None:
    """The folders of the `shape` commands above; no test of its own, for another process may be given that."""
    lines = [shlex.split(line) for line in steps() if line.startswith("stringflux shape ")]
    poles, chisel = sorted(lines, key=lambda line: "--body" in line)
    for line in (poles, chisel):
        place = line[line.index("--out") + 1]
        found = json.loads((folder / place / "shape.json").read_text(encoding="utf-8"))["result"]
        (goal,) = found["goals"]
        after, before = found["designs"][0]["figures"][goal], found["before"][goal]
        if line is poles:  # more output
            assert after > (1 + LEAST_GAIN) * before
        else:  # less aperture
            assert after < (1 - LEAST_NARROWER) * before
