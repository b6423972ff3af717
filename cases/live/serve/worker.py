"""The process that computes for the page: one job at a time, topic by topic, given up when nobody wants it."""

from __future__ import annotations

import os
import time
import warnings
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from ...ending import end_with_parent
from ..frames import frame

if TYPE_CHECKING:
    from stringflux.solver.stages import Keep

    from ...pickup import Pickup
    from ..hand.design import Edit

T = TypeVar("T")
_KNOWN = 2
"""Pickups that are held for a first look at their neighbours: a draft and a normal one."""
AGAIN = 0.5
"""s after which a stage that goes on is told of once more, with its share."""
READY = 0
"""The number under which a process says that it is there."""
BEGUN = "begun"
"""What a process says when it knows which solver a job goes to."""


@dataclass(frozen=True, kw_only=True)
class Job:
    """A design to compute, or to edit and draw.

    Attributes
    ----------
    number : int
        Grows from job to job; an answer names it.
    text : str
        The design.
    quality : {"draft", "normal"}
    topics : tuple of str
        Of :data:`.answers.TOPICS`, in the order wanted.
    string : int
        The chosen one, from 1.
    swing : float
        Its amplitude, m.
    name : str
        Of the design's file.
    edits : tuple of Edit or None
        Edit and draw it instead.
    head : dict
        What an answer repeats.
    """

    number: int = 0
    text: str
    quality: str = "draft"
    topics: tuple[str, ...] = ()
    string: int = 1
    swing: float = 0.5e-3
    name: str = ""
    edits: tuple[Edit, ...] | None = None
    head: dict[str, Any] = field(default_factory=dict)


class Newest(Protocol):
    """The number of the job that is wanted, shared by the processes."""

    value: int


class SupersededError(Exception):
    """Nobody wants this job any more."""


@dataclass(kw_only=True)
class _Line:
    """The way back: (number, kind, message); without a message the job is at its end."""

    jobs: Connection
    newest: Newest
    job: Job
    stage: str = ""
    told: float = 0.0

    def tell(self, kind: str, content: Mapping[str, Any]) -> None:
        about = {"re": self.job.number, "quality": self.job.quality, **self.job.head, "kind": kind}
        self.jobs.send((self.job.number, kind, frame({**about, **content})))

    def step(self) -> None:
        if self.newest.value != self.job.number:
            raise SupersededError

    def progress(self, stage: str, share: float) -> None:
        self.step()
        if stage != self.stage or time.monotonic() > self.told + AGAIN:
            self.stage, self.told = stage, time.monotonic()
            self.tell("progress", {"stage": stage, "share": share})


class _Asking:
    """What solutions are kept in; asking it for one is a step of the job that runs.

    The pickup that was computed last stays: what else is asked of it begins with all that is known. So do the last
    ones whose strings are known: a first look at their neighbours goes by them.
    """

    def __init__(self, keep: Keep) -> None:
        self._keep = keep
        self.step: Callable[[], None] = _go_on
        self._last: tuple[str, str, Pickup] | None = None
        self._known: list[Pickup] = []

    def known(self, quality: str) -> tuple[Pickup, ...]:
        """Pickups of that quality whose strings are known, the newest first."""
        return tuple(p for p in self._known if p.quality == quality)

    def knows(self, pickup: Pickup) -> None:
        """The strings of a pickup are known."""
        self._known = [pickup, *(p for p in self._known if p is not pickup)][:_KNOWN]

    def __call__(self, kind: str, key: object, make: Callable[[], T], /) -> T:
        self.step()
        return self._keep(kind, key, make)

    def pickup(self, text: str, quality: str) -> Pickup:
        """Of a design."""
        from ...solving import solve
        from ..hand.design import read_design

        if self._last is None or self._last[:2] != (text, quality):
            self._last = (text, quality, solve(read_design(text), quality=quality, keep=self))
        return self._last[2]


def _go_on() -> None:
    """No job runs."""


def work(jobs: Connection, newest: Newest, nice: int = 0) -> None:
    """Compute until the parent is gone; `nice` lets others go first."""
    end_with_parent()
    warnings.simplefilter("ignore")
    if nice and hasattr(os, "nice"):
        os.nice(nice)
    from threadpoolctl import threadpool_limits

    from ...kept.store import memory

    keep = _Asking(memory())
    with threadpool_limits(1):
        jobs.send((READY, "", None))
        while True:
            try:
                job: Job = jobs.recv()
            except EOFError:
                return
            line = _Line(jobs=jobs, newest=newest, job=job)
            keep.step = line.step
            with suppress(SupersededError):
                _done(line, job, keep)
            keep.step = _go_on
            jobs.send((job.number, "", None))


def _done(line: _Line, job: Job, keep: _Asking) -> None:
    from stringflux.geometry.errors import StringfluxError

    if job.edits is not None:
        from ..hand.drawn import drawn

        line.jobs.send((job.number, "design", drawn(job.head["design"], job.text, job.edits)[0]))
        return
    from ..answers import Asked, answer

    try:
        pickup = keep.pickup(job.text, job.quality)
        line.jobs.send((job.number, BEGUN, pickup.solver.encode()))
        asked = Asked(string=job.string, swing=job.swing, name=job.name, text=job.text,
                      before=keep.known(job.quality))
        for topic in job.topics:
            line.step()
            line.tell(topic, {"answer": answer(topic, pickup, asked, line.progress)})
            if topic == "strings":
                keep.knows(pickup)
        line.tell("done", {})
    except StringfluxError as error:
        line.tell("failed", {"says": str(error)})
    except MemoryError:
        line.tell("failed", {"says": "there is not enough memory for this design; take a coarser one"})
    except SupersededError:
        raise
    except Exception as error:  # a fault of ours is a sentence on the page, not its end
        line.tell("failed", {"says": f"this design cannot be computed ({type(error).__name__}); "
                             "undo the last change, and report it with the case"})
