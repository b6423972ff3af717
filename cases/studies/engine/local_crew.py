"""Worker processes of this machine: each computes its run of designs, and may die without harm to the study.

Every worker has a pipe of its own, so that it is known which design a dead one had in hand. A design that takes its
worker with it is tried once more; the second time it is a failed one. Workers are started afresh rather than forked:
the mesher does not survive a fork. They end with the process that started them, however that ends.
"""

from __future__ import annotations

import os
import pickle
import signal
import sys
import warnings
from collections import Counter, deque
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass, field
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess

from stringflux.geometry.errors import CaseError, StringfluxError

from ...ending import deaf, end_with_parent
from .computing import computed, pin_threads, reason
from .dealing import Shares
from .task import Outcome, Task

TICK = 0.25  # s between looks at Ctrl-C
IN_HAND = 2  # designs a worker holds: the one it computes, and the next, so that it never waits for us
DEATHS = 2  # of its worker, and a design has failed
STARTS = 3  # workers in a row that die before their first word
MOST_WORKERS = 1024
LEAVE = 2.0  # s for a worker to go by itself


def count_workers(asked: int | None, tasks: int) -> int:
    """How many processes to start; as many as there are cores for us, but none without a design.

    Raises
    ------
    CaseError
    """
    if asked is not None and not 1 <= asked <= MOST_WORKERS:
        raise CaseError(f"--workers: received {asked}; write a number from 1 to {MOST_WORKERS}")
    if asked is None:
        cores = getattr(os, "sched_getaffinity", None)
        asked = len(cores(0)) if cores is not None else os.cpu_count() or 1
    return max(1, min(asked, tasks))


@dataclass(kw_only=True)
class _Worker:
    """A worker process and the designs it holds, in the order in which it computes them."""

    slot: int
    process: SpawnProcess
    pipe: Connection
    ready: bool = False
    in_hand: deque[Task] = field(default_factory=deque)


class LocalCrew:
    """Processes of this machine.

    Parameters
    ----------
    workers : int
        How many.
    """

    def __init__(self, workers: int) -> None:
        self._count = workers

    def results(self, shares: Shares, evaluate: Callable[[Task], Outcome]) -> Generator[Outcome | None, None, None]:
        """Outcomes as they come; None in every quarter of a second in which none came."""
        missing = len(shares)
        slots = range(min(self._count, missing))
        shares.deal(slots)
        program, losses = pickle.dumps(evaluate), _Losses()
        crew: list[_Worker] = []
        try:
            crew += [_started(slot, program) for slot in slots]
            while missing:
                for worker in crew:
                    _feed(worker, shares)
                awake = wait([handle for w in crew for handle in (w.pipe, w.process.sentinel)], timeout=TICK)
                if not awake:
                    yield None
                for worker in [w for w in crew if w.pipe in awake or w.process.sentinel in awake]:
                    alive, outcomes = _heard(worker)
                    if not alive:
                        crew.remove(worker)
                        outcomes += losses.note(worker)
                        shares.give_back(worker.slot, worker.in_hand)
                    for outcome in outcomes:
                        missing -= 1
                        yield outcome
                    if not alive and missing:
                        crew.append(_started(worker.slot, program))
        finally:
            _dismiss(crew, at_once=bool(missing))


class _Losses:
    """Counts what workers died of."""

    def __init__(self) -> None:
        self._deaths, self._unready = Counter[int](), 0

    def note(self, worker: _Worker) -> list[Outcome]:
        """Take a dead worker's design out of its hand if it has failed by this."""
        worker.process.join()
        end = _end(worker.process)
        worker.process.close()
        worker.pipe.close()
        if not worker.ready:
            self._unready += 1
            if self._unready >= STARTS:
                raise StringfluxError(f"no worker process can be started here ({end})")
            return []
        self._unready = 0
        if not worker.in_hand:
            return []
        number = worker.in_hand[0].number
        self._deaths[number] += 1
        if self._deaths[number] < DEATHS:
            return []
        worker.in_hand.popleft()
        return [Outcome(number=number, failure=f"it ended its worker process twice ({end})", machine=True)]


def _feed(worker: _Worker, shares: Shares) -> None:
    """Hand out the next designs."""
    while len(worker.in_hand) < IN_HAND:
        task = shares.take(worker.slot)
        if task is None:
            return
        worker.in_hand.append(task)
        try:
            worker.pipe.send(task)
        except OSError:
            return  # it is dead, which its pipe will say


def _heard(worker: _Worker) -> tuple[bool, list[Outcome]]:
    """Whether the worker is alive, and what it has to say."""
    outcomes: list[Outcome] = []
    try:
        while worker.pipe.poll():
            said = worker.pipe.recv()
            if isinstance(said, Outcome):
                worker.in_hand.popleft()
                outcomes.append(said)
            elif said is None:
                worker.ready = True
            else:
                raise StringfluxError(f"no worker process can be started here ({said})")
    except (OSError, EOFError):
        return False, outcomes
    return worker.process.is_alive(), outcomes


def _end(process: SpawnProcess) -> str:
    """How a process ended, in words."""
    code = process.exitcode or 0
    if code >= 0:
        return f"exit code {code}"
    try:
        name = signal.Signals(-code).name
    except ValueError:
        name = str(-code)
    return f"signal {name}; perhaps the memory was short" if name == "SIGKILL" else f"signal {name}"


def _started(slot: int, program: bytes) -> _Worker:
    context = get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_work, args=(theirs, program), daemon=True)
    with deaf():
        process.start()
    theirs.close()  # so that our end says when the worker is gone
    return _Worker(slot=slot, process=process, pipe=ours)


def _dismiss(crew: Sequence[_Worker], *, at_once: bool) -> None:
    for worker in crew:
        worker.pipe.close()  # a worker that waits for its next design leaves
        if at_once:
            worker.process.terminate()
    for worker in crew:
        worker.process.join(LEAVE)
        if worker.process.is_alive():
            worker.process.kill()
            worker.process.join()
        worker.process.close()


def _work(pipe: Connection, program: bytes) -> None:
    """What a worker does: None when it is ready, then an outcome for every task, until nobody listens."""
    end_with_parent()
    pin_threads()  # before the next lines load the linear algebra
    if not sys.warnoptions:
        warnings.simplefilter("ignore")  # of libraries; ours are sentences
    try:
        try:
            evaluate = pickle.loads(program)
        except Exception as error:
            pipe.send(reason(error))
            return
        pipe.send(None)
        while True:
            task = pipe.recv()
            pipe.send(computed(task, evaluate))
    except (EOFError, OSError):
        return  # the study is over, or was killed
