"""Work in a second process beside this one, for machines have two cores and the rest of a job waits for neither."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from multiprocessing import get_context
from multiprocessing.connection import Connection
from typing import Any

from ..ending import deaf, end_with_parent


@contextmanager
def beside(work: Callable[..., Any], *args: Any) -> Iterator[Callable[[], Any]]:
    """Start ``work(*args)`` in a process of its own; give the callable that waits for what it returns.

    `work` must be a function of a module, its arguments and result something that pickles. An exception of `work`
    is raised where its result is asked for. If the process itself dies, `work` is done again here. The process
    ends with the block, whatever happens in it.
    """
    # a fresh process, not a copy of this one, which may have threads
    context = get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_serve, args=(theirs, work, args), daemon=True)
    with deaf():  # the first process is told too, and ends this one
        process.start()
    theirs.close()

    def result() -> Any:
        try:
            good, value = ours.recv()
        except EOFError:
            return work(*args)
        if not good:
            raise value
        return value

    try:
        yield result
    finally:
        ours.close()
        process.terminate()
        process.join()
        process.close()


def _serve(to: Connection, work: Callable[..., Any], args: tuple[Any, ...]) -> None:
    end_with_parent()
    warnings.simplefilter("ignore")
    try:
        answer = True, work(*args)
    except Exception as error:
        answer = False, error
    to.send(answer)
    to.close()
