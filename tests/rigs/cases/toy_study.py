"""Cheap designs for the tests of the engine; each leaves a line in a file when it is computed, and some misbehave.

As a process of its own, `main` takes FOLDER COUNT LOG [resume] [KEY=VALUE ...].
"""

from __future__ import annotations

import math
import os
import signal
import sys
import time
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from stringflux.cases.studies.engine import cluster_crew, study_folder
from stringflux.cases.studies.engine.engine import run_study
from stringflux.cases.studies.engine.task import Outcome, Task
from stringflux.geometry.errors import SolveError, StringfluxError

VERSION = "toy"
"""Of the program, in processes of the tests: somebody may be working on it while they run."""


def dask_setup(worker: Any) -> None:
    """What a Dask worker does that was started with this as its preload."""
    cluster_crew.code_version = lambda: VERSION


def tasks(count: int, **document: Any) -> list[Task]:
    """Designs; a number under a key of `document` is the design that misbehaves in its way."""
    return [Task(number=i, document={"x": i / 7, **document}) for i in range(count)]


def toy(task: Task, log: str) -> Outcome:
    """A design: x and its sine."""
    x, do = task.document["x"], task.document
    note(log, task.number)
    time.sleep(do.get("seconds", 0))
    if do.get("raises") == task.number:
        raise SolveError("the design did not\nconverge")
    if do.get("faulty") == task.number:
        raise ZeroDivisionError
    if do.get("starves") == task.number and evaluations(log)[task.number] == 1:
        raise MemoryError
    if task.number in do.get("dies", ()):
        os.kill(os.getpid(), signal.SIGKILL)
    if do.get("dies_once") == task.number and evaluations(log)[task.number] == 1:
        os.kill(os.getpid(), signal.SIGKILL)
    odd = math.inf if task.number == 3 else -0.0
    return Outcome(number=task.number, values={"x": x, "sine": math.sin(x) / 3, "odd": odd}, seconds=0.1)


def note(log: str, number: int) -> None:
    """A line for a computed design; appended whole, whoever else does."""
    file = os.open(log, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    os.write(file, f"{number} {os.getpid()}\n".encode())
    os.close(file)


def evaluations(log: str | Path) -> Counter[int]:
    """How often every design was computed."""
    path = Path(log)
    return Counter(int(line.split()[0]) for line in path.read_text().splitlines()) if path.exists() else Counter()


def processes(log: str | Path) -> dict[int, list[int]]:
    """Designs that every process computed, in order."""
    found: dict[int, list[int]] = {}
    for line in Path(log).read_text().splitlines():
        number, process = map(int, line.split())
        found.setdefault(process, []).append(number)
    return found


def evaluate(log: str | Path) -> Callable[[Task], Outcome]:
    """The function for `run_study`."""
    return partial(toy, log=str(log))


def main(args: list[str]) -> int:
    folder, count, log, *rest = args
    study_folder.code_version = lambda: VERSION
    options: dict[str, Any] = {"workers": 2}
    document: dict[str, Any] = {}
    for word in rest:
        key, _, value = word.partition("=")
        if word == "resume":
            options["resume"] = True
        else:
            document[key] = float(value)
    try:
        run_study(tasks(int(count), **document), Path(folder), evaluate=evaluate(log), **options)
    except StringfluxError as error:
        print(f"stringflux: {error}", file=sys.stderr)
        return error.exit_code
    return 0

