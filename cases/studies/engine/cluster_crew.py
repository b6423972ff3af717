"""Workers of a running Dask scheduler.

    dask scheduler --host 127.0.0.1
    dask worker tcp://127.0.0.1:8786 --nworkers auto --nthreads 1

Each worker gets its own run of neighbouring designs, two at a time. Any of those that a lost worker had in hand may
have been its end, so each is tried again alone; the one that ends a worker alone is a failed one.
"""

from __future__ import annotations

import asyncio
import logging
import queue
import re
import time
import warnings
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import CancelledError
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Self

from stringflux.geometry.errors import CaseError, MissingLibraryError, StringfluxError
from stringflux.geometry.units import shown

from ...kept.code_version import code_version
from .computing import computed
from .dealing import Shares
from .task import Outcome, Task

ADDRESS = re.compile(r"(?:(?:tcp|tls|ucx|ws|wss)://)?[^\s/:]+:\d{1,5}|(?:tcp|tls|ws|wss)://\[[0-9a-fA-F:]+\]:\d{1,5}")
CONNECT = 5.0  # s for the scheduler to answer
WORKERS = 30.0  # s for the first worker
GONE = 60.0  # s without any worker, and the study stops
FETCH = 10.0  # s for a result that is there
TICK = 0.25  # s between looks at Ctrl-C
LOOK = 1.0  # s between looks at who is there
IN_HAND = 2  # designs a worker holds: the one it computes, and the next
EXAMPLE = "tcp://127.0.0.1:8786"


class ClusterCrew:
    """The workers of a scheduler, as a context manager.

    Parameters
    ----------
    address : str
        Of the scheduler.
    workers : int, optional
        Refused: how many there are is the cluster's matter.
    """

    def __init__(self, address: str, *, workers: int | None = None) -> None:
        if workers is not None:
            raise CaseError("--workers: counts processes of this machine; leave it out with --cluster")
        if not ADDRESS.fullmatch(address):
            raise CaseError(f"--cluster: received {shown(address)}; write a scheduler's address, such as {EXAMPLE}")
        self._address = address
        self._client: Any = None

    def __enter__(self) -> Self:
        try:
            from distributed import Client
        except ImportError:
            raise MissingLibraryError(
                "--cluster needs the library distributed; `pip install distributed` brings it"
            ) from None
        self._quiet = ExitStack()
        self._quiet.enter_context(_silence())
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # other versions of its own parts; ours are compared below
                self._client = Client(self._address, timeout=CONNECT, set_as_default=False)
        except Exception as error:  # whatever the transport raises
            self._quiet.close()
            raise CaseError(
                f"--cluster: no scheduler answers at {shown(self._address)} ({_first(error)}); "
                "`dask scheduler` starts one and says its address"
            ) from None
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            self._client.close(timeout=2)
        finally:
            self._quiet.close()

    def results(self, shares: Shares, evaluate: Callable[[Task], Outcome]) -> Generator[Outcome | None, None, None]:
        """Outcomes as they come; None in every quarter of a second in which none came."""
        there = (yield from self._first_workers()) if len(shares) else []
        shares.deal(there)
        suspects = deque[Task]()
        held, arrived = dict[Any, _Held](), queue.SimpleQueue[Any]()
        looked = seen = time.monotonic()
        try:
            while held or suspects or len(shares):
                for worker in there:
                    for given in _next(worker, list(held.values()), shares, suspects):
                        future = self._submitted(given, evaluate)
                        held[future] = given
                        future.add_done_callback(arrived.put)
                ended: list[tuple[_Held, Outcome | None]] = []
                try:
                    future = arrived.get(timeout=TICK)
                except queue.Empty:
                    yield None
                else:
                    if future in held:
                        given = held.pop(future)
                        ended.append((given, self._outcome(future, given)))
                now = time.monotonic()
                if now - looked > LOOK:
                    there, looked = self._workers(), now
                    seen = now if there else seen
                    if now - seen > GONE:
                        raise self._lost(f"has had no worker for {GONE:g} s; start workers")
                    # Dask would wait for that very worker to come back
                    lost = [future for future, given in held.items() if given.worker not in there]
                    ended += [(given, _loss(given)) for given in map(held.pop, lost)]
                    self._client.cancel(lost)
                for given, outcome in ended:
                    if outcome is None:
                        suspects.append(given.task)
                    else:
                        yield outcome
        finally:
            if held and self._client.status == "running":
                self._client.cancel(list(held))

    def _submitted(self, given: _Held, evaluate: Callable[[Task], Outcome]) -> Any:
        return self._client.submit(
            computed_by, given.task, evaluate, code_version(), workers=[given.worker], pure=False
        )

    def _outcome(self, future: Any, given: _Held) -> Outcome | None:
        """What came of a design, or None if it should be tried alone."""
        from distributed import KilledWorker

        if future.status == "cancelled":
            raise self._lost("does not answer any more; start it again")
        try:
            said = future.result(timeout=FETCH)
        except KilledWorker:  # it came back under its old address before we looked, more than once
            return _loss(given)
        except TimeoutError:  # its worker was lost right after
            return None
        except (OSError, CancelledError, asyncio.CancelledError):
            raise self._lost("does not answer any more; start it again") from None
        except Exception as error:  # in what Dask does around it; what the design raises is in its outcome
            raise CaseError(
                f"--cluster: the scheduler at {self._address} and its workers must have the same stringflux as this "
                f"machine, but one could not read a design ({_first(error)}); install it there"
            ) from None
        if isinstance(said, Outcome):
            return said
        raise CaseError(
            f"--cluster: a worker has another version of stringflux ({said}; here is {code_version()}); install the "
            "same one there and start the worker again"
        )

    def _lost(self, what: str) -> StringfluxError:
        return StringfluxError(
            f"the cluster at {self._address} {what} and run the same command with --resume, what was finished is kept"
        )

    def _workers(self) -> list[str]:
        """Addresses of the workers that are there."""
        try:
            return sorted(self._client.nthreads())
        except Exception:  # whatever the transport raises
            raise self._lost("does not answer any more; start it again") from None

    def _first_workers(self) -> Generator[None, None, list[str]]:
        until = time.monotonic() + WORKERS
        while not (there := self._workers()):
            if time.monotonic() > until:
                raise CaseError(
                    f"--cluster: the scheduler at {self._address} has no workers; "
                    f"`dask worker {self._address} --nworkers auto --nthreads 1` starts them"
                )
            time.sleep(TICK)
            yield None
        return there


@contextmanager
def _silence() -> Iterator[None]:
    """Without Dask's own log on the error stream: what matters is said in a sentence."""
    names = [n for n in logging.root.manager.loggerDict if n.partition(".")[0] in ("distributed", "asyncio")]
    before = {logger: logger.level for logger in map(logging.getLogger, names)}
    for logger in before:
        logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for logger, level in before.items():
            logger.setLevel(level)


@dataclass(frozen=True, kw_only=True)
class _Held:
    """A design in a worker's hands."""

    worker: str
    task: Task
    alone: bool


def _next(worker: str, held: Sequence[_Held], shares: Shares, suspects: deque[Task]) -> list[_Held]:
    """What a worker gets now; a suspect is computed alone, so that no other can be blamed."""
    busy = [given for given in held if given.worker == worker]
    if suspects:
        return [] if busy else [_Held(worker=worker, task=suspects.popleft(), alone=True)]
    if any(given.alone for given in busy):
        return []
    tasks = [shares.take(worker) for _ in range(IN_HAND - len(busy))]
    return [_Held(worker=worker, task=task, alone=False) for task in tasks if task is not None]


def _loss(given: _Held) -> Outcome | None:
    """What a lost worker means for a design: its failure if it was alone, else None."""
    if not given.alone:
        return None
    return Outcome(number=given.task.number, failure="it ended its worker twice", machine=True)


def computed_by(task: Task, evaluate: Callable[[Task], Outcome], code: str) -> Outcome | str:
    """On the worker: the outcome, or the worker's version of the program if it is not `code`."""
    return computed(task, evaluate) if code_version() == code else code_version()


def _first(error: Exception) -> str:
    """The first line of an error."""
    return (str(error).strip().splitlines() or [type(error).__name__])[0][:200]
