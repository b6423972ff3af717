"""The process that computes for the page: always the newest request, topic by topic."""

from __future__ import annotations

import warnings
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from typing import Any, Protocol

from ..ending import end_with_parent
from .frames import frame


@dataclass(frozen=True, kw_only=True)
class Job:
    """A design to compute.

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
    """

    number: int
    text: str
    quality: str = "draft"
    topics: tuple[str, ...] = ()
    string: int = 1
    swing: float = 0.5e-3
    name: str = ""
    head: dict[str, Any] = field(default_factory=dict)


class Newest(Protocol):
    """The number of the newest job, shared by the processes."""

    value: int


class SupersededError(Exception):
    """A newer job is there."""


def work(jobs: Connection, newest: Newest) -> None:
    """Compute until the parent is gone."""
    end_with_parent()
    warnings.simplefilter("ignore")
    from threadpoolctl import threadpool_limits

    from stringflux.geometry.errors import StringfluxError

    from ..kept.store import memory
    from ..pickup import solve
    from .answers import Asked, answer
    from .design import read_design

    keep = memory()
    with threadpool_limits(1):
        while True:
            try:
                job: Job = jobs.recv()
            except EOFError:
                return

            def told(content: dict[str, Any], job: Job = job) -> None:
                jobs.send((job.number, frame({"re": job.number, "quality": job.quality, **job.head, **content})))

            def progress(stage: str, share: float, job: Job = job) -> None:
                if newest.value != job.number:
                    raise SupersededError
                jobs.send((job.number, frame({"re": job.number, **job.head, "kind": "progress", "stage": stage,
                                              "share": share})))

            try:
                pickup = solve(read_design(job.text), quality=job.quality, keep=keep)
                asked = Asked(string=job.string, swing=job.swing, name=job.name, text=job.text)
                for topic in job.topics:
                    if newest.value != job.number:
                        raise SupersededError
                    told({"kind": topic, "answer": answer(topic, pickup, asked, progress)})
                told({"kind": "done"})
            except SupersededError:
                jobs.send((job.number, None))
            except StringfluxError as error:
                told({"kind": "failed", "says": str(error)})
            except MemoryError:
                told({"kind": "failed", "says": "there is not enough memory for this design; take a coarser one"})
            except Exception as error:  # a fault of ours is a sentence on the page, not its end
                told({"kind": "failed", "says": f"this design cannot be computed ({type(error).__name__}); "
                      "undo the last change, and report it with the case"})
