"""What is going on: a bar on a terminal, plain lines elsewhere, always on the error stream."""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Report = Callable[[str, float], None]
Count = Callable[[int, int, int], None]
LINES_EVERY = 10.0  # s between lines about many designs


@contextmanager
def shown_progress(*, bar_only: bool = False) -> Iterator[Report]:
    """Give the callable to report a stage's name and the share done, 0…1.

    Parameters
    ----------
    bar_only : bool
        Say nothing where there is no terminal.
    """
    if not sys.stderr.isatty():
        yield _nothing if bar_only else _Lines().report
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description:<28}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=1.0)

        def report(stage: str, share: float) -> None:
            bar.update(task, description=stage, completed=share)

        yield report


@contextmanager
def shown_designs() -> Iterator[Count]:
    """Give the callable to report how many designs are finished, how many there are, how many failed."""
    if not sys.stderr.isatty():
        yield _DesignLines().report
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    columns = (TextColumn("Designs"), BarColumn(), MofNCompleteColumn(), TextColumn("{task.description}"))
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task, left = bar.add_task("", total=None), _TimeLeft()

        def report(done: int, total: int, failed: int) -> None:
            said = [f"{failed} failed"] if failed else []
            said += [remaining] if (remaining := left.after(done, total)) else []
            bar.update(task, total=total, completed=done, description=", ".join(said))

        yield report


class _TimeLeft:
    """The time left, from the designs of this run; those of an earlier one took none of it."""

    def __init__(self) -> None:
        self._begin = time.monotonic()
        self._before: int | None = None

    def after(self, done: int, total: int) -> str:
        if self._before is None:
            self._before = done
        if done <= self._before or done >= total:
            return ""
        seconds = (time.monotonic() - self._begin) / (done - self._before) * (total - done)
        return f"{said_time(seconds)} left"


def said_time(seconds: float) -> str:
    """A time as people say it.

    Examples
    --------
    >>> said_time(8.4), said_time(95), said_time(3 * 3600)
    ('9 s', '2 min', '3.0 h')
    """
    if seconds < 60:
        return f"{math.ceil(seconds)} s"
    return f"{math.ceil(seconds / 60)} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"


class _DesignLines:
    """A line now and then, and one for the last design."""

    def __init__(self) -> None:
        self._left, self._said = _TimeLeft(), time.monotonic()

    def report(self, done: int, total: int, failed: int) -> None:
        left = self._left.after(done, total)
        if done < total and time.monotonic() - self._said < LINES_EVERY:
            return
        self._said = time.monotonic()
        parts = [f"{done} of {total} designs", *([f"{failed} failed"] if failed else []), *([left] if left else [])]
        print(", ".join(parts), file=sys.stderr, flush=True)


def _nothing(stage: str, share: float) -> None:
    pass


class _Lines:
    """One line for every change of stage."""

    def __init__(self) -> None:
        self._last = ""

    def report(self, stage: str, share: float) -> None:
        if stage and stage != self._last:
            print(stage, file=sys.stderr, flush=True)
        self._last = stage
