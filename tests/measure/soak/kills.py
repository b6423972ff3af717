"""Commands stopped at random moments, and kept stages damaged at random: nothing of anybody's is lost.

Before half the kills the results folder holds an earlier result and a file of the person's own. After it the folder
is the old one or the new one, each whole, the person's file is in it, and no process of ours is left. The next run
clears what a kill left beside it.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGKILL)
EXITS = {signal.SIGINT: 130, signal.SIGTERM: 143, signal.SIGHUP: 129, signal.SIGKILL: -signal.SIGKILL}
LONGEST = 8.0  # s from the start to the signal
GONE = 2.5  # s after the end of the command until the last of its processes is gone
PATIENCE = 600
OWN = "notes of mine.txt"
DRAFT = ("--quality", "draft")
# by its mark: the command and its options; every one writes a folder
COMMANDS: dict[str, tuple[str, ...]] = {
    "prediction.json": ("predict", "bench-single", *DRAFT),
    "signal.json": ("signal", "bench-single", *DRAFT),
    "balance.json": ("balance", "baritone-six", "--by", "tilt", *DRAFT),
    "shape.json": ("shape", "bench-single", "--form", "dome", "--for", "output", *DRAFT),
    "mix.json": ("mix", "baritone-two-places", *DRAFT),
    "tolerance.json": ("tolerance", "bench-single", "--check", "4", "--count", "256", *DRAFT),
    "study.json": ("compare", "bench-single", "--vary", "strings.gap=2mm:3mm:6", "--rank", "output", *DRAFT),
    "design.json": ("design", "bench-single", "--want", "resistance=1kohm", "--vary",
                    "coil.wire=41AWG,42AWG,43AWG,44AWG", "--rank", "output", *DRAFT),
}
STUDIES = ("tolerance.json", "study.json", "design.json")


def _start(words: tuple[str, ...], cache: Path) -> subprocess.Popen[str]:
    return subprocess.Popen([sys.executable, "-m", "stringflux.cases", *words], stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, text=True, start_new_session=True,
                            env={**os.environ, "STRINGFLUX_CACHE": str(cache)})


def _run(words: tuple[str, ...], cache: Path) -> str:
    """What broke of a run that nobody stops; "" if nothing."""
    process = _start(words, cache)
    _, said = process.communicate(timeout=PATIENCE)
    return f"exit {process.returncode} of {' '.join(words)}: {said[-400:]}" if process.returncode else ""


def one_kill(rng: random.Random, folder: Path) -> str:
    """One command, one signal."""
    mark = rng.choice(list(COMMANDS))
    out, cache = folder / "out", folder / "cache"
    words = (*COMMANDS[mark], "--out", str(out))
    again = (*words, "--resume") if mark in STUDIES else words
    if rng.random() < 0.5 and mark not in STUDIES:
        fault = _run(words, cache)
        if fault:
            return fault
        (out / OWN).write_text("mine", encoding="utf-8")
    had = (out / mark).is_file()
    number, wait = rng.choice(SIGNALS), rng.uniform(0.0, LONGEST)
    process = _start(words, cache)
    time.sleep(wait)
    process.send_signal(number)
    if number is signal.SIGINT and rng.random() < 0.3:  # an impatient person
        time.sleep(rng.uniform(0.0, 0.3))
        process.send_signal(number)
    try:
        _, said = process.communicate(timeout=30)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        return f"{number.name} after {wait:.3f} s of {mark}: still there 30 s later"
    fault = (_left(process, number, said) or _folder_fault(out, mark, had=had)
             or _cleared(again, cache, folder, out, mark))
    return f"{number.name} after {wait:.3f} s of {' '.join(words)}: {fault}" if fault else "good"


def _left(process: subprocess.Popen[str], number: signal.Signals, said: str) -> str:
    """What the process said, how it ended, and who of its session is still there."""
    if "Traceback" in said or "should not" in said:
        return said[-600:]
    # the system itself ends a Python that does not look after signals yet; work that is done is not stopped
    if process.returncode not in (0, EXITS[number], -number):
        return f"exit {process.returncode}: {said[-300:]}"
    end = time.monotonic() + GONE
    while alive := _session(process.pid):
        if time.monotonic() > end:
            os.killpg(process.pid, signal.SIGKILL)
            return f"processes {alive} are left"
        time.sleep(0.05)
    return ""


def _session(number: int) -> list[int]:
    """Processes of a session, those that wait to be buried not counted (Linux)."""
    found = []
    for place in Path("/proc").glob("[0-9]*/stat"):
        try:
            name, _, rest = place.read_text().rpartition(")")
        except OSError:
            continue
        state, _, _, session = rest.split()[:4]
        if int(session) == number and state not in "ZX":
            found.append(int(name.split()[0]))
    return found


def _folder_fault(out: Path, mark: str, *, had: bool) -> str:
    """What is wrong with a folder that is the old one or the new one."""
    if not out.exists():
        return "the folder that was there is gone" if had else ""
    if mark in STUDIES:
        return ""  # a study's folder grows; _cleared goes on with it
    if not (out / mark).is_file():
        return f"a folder without {mark}: {sorted(p.name for p in out.iterdir())}"
    files = json.loads((out / mark).read_text(encoding="utf-8"))["files"]
    missing = [name for name in files if not (out / name).is_file()]
    if missing:
        return f"missing {missing}"
    return f"{OWN} is gone" if had and not (out / OWN).is_file() else ""


def _cleared(words: tuple[str, ...], cache: Path, folder: Path, out: Path, mark: str) -> str:
    """Whether the next run does its work and leaves nothing beside the folder."""
    if mark in STUDIES and not any(out.glob("*")):
        words = tuple(word for word in words if word != "--resume")
    fault = _run(words, cache)
    left = sorted(p.name for p in folder.iterdir() if p not in (out, cache))
    return fault or (f"left beside the folder: {left}" if left else "")


def one_damage(rng: random.Random, folder: Path) -> str:
    """A study, its kept stages damaged, the study again: the same table, and strange files untouched."""
    cache, strange = folder / "cache", folder / "cache" / "holiday.jpg"
    cache.mkdir()
    strange.write_bytes(b"mine")
    words = (*COMMANDS["study.json"], "--yes")
    fault = _run((*words, "--out", str(folder / "one")), cache)
    if fault:
        return fault
    files = [p for p in sorted(cache.rglob("*")) if p.is_file() and p != strange]
    if not files:
        return "nothing was kept"
    for path in rng.sample(files, max(1, len(files) // 2)):
        _damage(rng, path)
    fault = _run((*words, "--out", str(folder / "two")), cache)
    if fault:
        return fault
    tables = [(folder / name / "table.csv").read_bytes() for name in ("one", "two")]
    if tables[0] != tables[1]:
        return "the table is another one after the cache was damaged"
    return "good" if strange.read_bytes() == b"mine" else "a strange file was touched"


def _damage(rng: random.Random, path: Path) -> None:
    """Turn a bit, cut it off, empty it, put another file or a folder in its place, take it away."""
    data = bytearray(path.read_bytes())
    how = rng.choice(["bit", "cut", "empty", "other", "folder", "gone"])
    if how == "bit" and data:
        data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
        path.write_bytes(data)
    elif how == "cut":
        path.write_bytes(data[:rng.randrange(len(data) + 1)])
    elif how == "empty":
        path.write_bytes(b"")
    elif how == "other":
        shutil.copyfile(rng.choice([p for p in path.parent.iterdir() if p.is_file()]), new := path.with_suffix(".x"))
        new.replace(path)
    else:
        path.unlink()
        if how == "folder":
            path.mkdir()
