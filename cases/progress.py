"""What is going on: a bar on a terminal, plain lines elsewhere, always on the error stream."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Report = Callable[[str, float], None]


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
