"""A computing process seen from the server: the newest job of a page wins, pages take turns, a crash is mended.

A job goes to the process when that has nothing else to do, so that nothing queues there. A job that its page
supersedes is given up at its next step. Where a step takes long, as in 3-D, the process is ended after `PATIENCE` and
a new one takes the newer job.
"""

from __future__ import annotations

import asyncio
from contextlib import suppress
from dataclasses import dataclass, field, replace
from multiprocessing import get_context
from typing import Any, Protocol

from ...ending import deaf
from ..frames import frame
from .worker import BEGUN, READY, Job, work

PATIENCE = 5.0
"""s that a newer job waits for a step of a build."""
BIRTHS = 5
"""Processes that may end one after the other before they are there."""
CRASHED = "the computing process ended by itself; a new one is there, change something or ask again"
BROKEN = "the computing process cannot be started; end the program and start it again"


class Asker(Protocol):
    """Who is told what a job gives."""

    def post(self, kind: str, message: bytes) -> None:
        """Take a message; it must not wait."""


class _Nobody:
    def post(self, kind: str, message: bytes) -> None:
        """Nobody hears it."""


NOBODY: Asker = _Nobody()
"""Asks for what will be wanted soon."""


@dataclass
class _Running:
    number: int
    job: Job
    asker: Asker
    solver: str = ""
    wanted: bool = True
    told: set[str] = field(default_factory=set)

    def rest(self) -> Job:
        """What of the job is still to do."""
        return replace(self.job, topics=tuple(t for t in self.job.topics if t not in self.told))


class Computer:
    """One computing process and the jobs of those who ask.

    Parameters
    ----------
    nice : int
        How far its process stands back behind others.
    longest : float or None
        s after which a job is ended, and its asker told.
    """

    def __init__(self, *, nice: int = 0, longest: float | None = None) -> None:
        self._context = get_context("spawn")
        self._nice, self._longest = nice, longest
        self._count, self._births, self._broken = READY, 0, False
        self._waiting: dict[int, tuple[Job, Asker]] = {}  # by asker, in turn
        self._running: _Running | None = None
        self._overdue: asyncio.TimerHandle | None = None
        self._start()

    def _start(self) -> None:
        self._ready, self._running = False, None
        self.newest = self._context.Value("q", READY, lock=False)
        self._ours, theirs = self._context.Pipe()
        self.process: Any = self._context.Process(target=work, args=(theirs, self.newest, self._nice), daemon=True)
        with deaf():
            self.process.start()
        theirs.close()

    def put(self, job: Job, asker: Asker) -> None:
        """Take a job in the place of the asker's last one; of the same design it adds to that one's topics."""
        running = self._running if self._running is not None and self._running.asker is asker else None
        if id(asker) in self._waiting:
            job = _joined(self._waiting[id(asker)][0], job)
        elif running is not None and running.wanted:
            job = _joined(running.rest(), job)
        self._waiting[id(asker)] = (job, asker)
        if self._running is not None and self._running.asker is NOBODY:
            self._give_up(self._running)  # what it has found is remembered
        if running is not None and running.wanted:
            self._give_up(running)
        self._next()

    def cancel(self, asker: Asker) -> bool:
        """The asker wants nothing any more; whether there was something."""
        had = self._waiting.pop(id(asker), None) is not None
        if self._running is not None and self._running.asker is asker and self._running.wanted:
            self._give_up(self._running)
            had = True
        return had

    def _give_up(self, running: _Running) -> None:
        running.wanted = False
        self.newest.value = READY
        self._watch(PATIENCE)

    def _watch(self, seconds: float) -> None:
        """Look after a while whether the running job is still there."""
        if self._overdue is not None:
            self._overdue.cancel()
        self._overdue = asyncio.get_running_loop().call_later(seconds, self._look, self._running)

    def _look(self, running: _Running | None) -> None:
        if running is None or running is not self._running:
            return
        if running.wanted:
            running.asker.post("failed", frame({"re": running.number, **running.job.head, "kind": "failed",
                               "says": f"this took longer than {self._longest:.0f} s, which is all that a class may "
                               "ask; try it on a machine of your own"}))
        elif running.solver == "row":
            self._watch(PATIENCE)  # its steps are short, and what it remembers is worth more
            return
        self._replace()

    def _replace(self) -> None:
        self.stop()
        self._start()
        self._listen()

    def _next(self) -> None:
        """Give the process the job whose turn it is."""
        while self._broken and self._waiting:
            job, asker = self._waiting.pop(next(iter(self._waiting)))
            asker.post("crashed", frame({**job.head, "kind": "crashed", "says": BROKEN}))
        if not self._ready or self._running is not None or not self._waiting:
            return
        job, asker = self._waiting.pop(next(iter(self._waiting)))
        self._count += 1
        job = replace(job, number=self._count)
        self._running = _Running(number=self._count, job=job, asker=asker)
        self.newest.value = self._count
        if self._longest is not None:
            self._watch(self._longest)
        with suppress(OSError):  # then its end is heard, too
            self._ours.send(job)

    def listen(self) -> None:
        """Hear what the process says, from now on, within the running loop."""
        self._loop = asyncio.get_running_loop()
        self._listen()

    def _listen(self) -> None:
        self._loop.add_reader(self._ours.fileno(), self._hear)

    def _hear(self) -> None:
        try:
            while self._ours.poll():
                number, kind, message = self._ours.recv()
                self._heard(number, kind, message)
        except (EOFError, OSError):
            self._mend()

    def _heard(self, number: int, kind: str, message: bytes | None) -> None:
        if number == READY:
            self._ready, self._births = True, 0
        running = self._running
        if running is not None and number == running.number:
            if message is None:
                self._running = None
            elif kind == BEGUN:
                running.solver = message.decode()
            elif running.wanted:
                running.told.add(kind)
                running.asker.post(kind, message)
        self._next()

    def _mend(self) -> None:
        """The process is gone: tell whom it worked for, and start another."""
        running = self._running
        self._births += 1
        if self._births > BIRTHS:
            self.stop()
            self._ready, self._broken = False, True
            self._next()
            return
        self._replace()
        if running is not None and running.wanted:
            running.asker.post("crashed", frame({"re": running.number, **running.job.head, "kind": "crashed",
                                                 "says": CRASHED}))

    def stop(self) -> None:
        """End the process."""
        if self._overdue is not None:
            self._overdue.cancel()
        with suppress(OSError, ValueError, AttributeError):
            self._loop.remove_reader(self._ours.fileno())
        self.process.kill()
        self.process.join(1.0)
        self._ours.close()


def _joined(before: Job, job: Job) -> Job:
    """A job with what is still to do of one before it, where both are of one design."""
    if (before.text, before.quality, before.head, before.edits) != (job.text, job.quality, job.head, job.edits):
        return job
    return replace(job, topics=(*job.topics, *(t for t in before.topics if t not in job.topics)),
                   name=job.name or before.name)
