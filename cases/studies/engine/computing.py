"""One design inside a worker process: linear algebra on one thread, and a failure as a sentence."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable
from dataclasses import replace

from stringflux.geometry.errors import MissingLibraryError, StringfluxError, WriteError

from .task import Outcome, Task

_ONE_AT_A_TIME = threading.Lock()  # the mesher is one per process; a Dask worker may have several threads
LONGEST = 500  # characters of a failure
MACHINE = (MemoryError, OSError, MissingLibraryError, WriteError)
"""What a design cannot be blamed for."""


def pin_threads() -> None:
    """One thread for linear algebra that is not loaded yet: the last digit must not depend on how many there are."""
    for library in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ[library] = "1"


def computed(task: Task, evaluate: Callable[[Task], Outcome]) -> Outcome:
    """The outcome of a design; an exception is a failed one.

    What kills the process, and what is no ordinary exception, is the crew's matter.
    """
    from threadpoolctl import threadpool_limits

    pin_threads()
    with _ONE_AT_A_TIME, threadpool_limits(limits=1):  # for those that are, on a Dask worker
        begin = time.perf_counter()
        try:
            return replace(evaluate(task), number=task.number)
        except Exception as error:
            seconds = time.perf_counter() - begin
            return Outcome(number=task.number, failure=reason(error), seconds=seconds,
                           machine=isinstance(error, MACHINE))


def reason(error: Exception) -> str:
    """An exception as one sentence."""
    first = " ".join(str(error).split())[:LONGEST]
    if isinstance(error, StringfluxError):
        return first or type(error).__name__
    return f"{type(error).__name__}: {first}" if first else type(error).__name__
