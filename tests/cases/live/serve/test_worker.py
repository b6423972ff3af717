"""The computing process of the live page, in this process: what it tells, in which order, and when it gives up."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import pytest

from rigs.live_server import head
from stringflux.cases.files.load import find_case
from stringflux.cases.kept.store import memory
from stringflux.cases.live.serve.worker import Job, SupersededError, _Asking, _done, _Line

TEXT = find_case("baritone-six").read_text(encoding="utf-8")
RAISED = TEXT.replace('"1.5 mm", "1.5 mm"]', '"1.5 mm", "1.9 mm"]')
STEP = 0.12
"""s of this process's time between two looks at whether the job is still wanted: four times what is wanted, 30 ms,
for machines that are slow."""


@dataclass
class Heard:
    """A pipe, and the number of the job that is wanted."""

    value: int = 0
    said: list[dict[str, Any]] = field(default_factory=list)

    def send(self, message: tuple[int, str, bytes | None]) -> None:
        _, kind, content = message
        self.said.append(head(content) if kind not in ("begun", "") and content else {"kind": kind})

    @property
    def kinds(self) -> list[str]:
        return [s["kind"] for s in self.said if s["kind"] not in ("progress", "begun")]


@pytest.fixture(scope="module")
def keep() -> _Asking:
    return _Asking(memory())


def run(keep: _Asking, job: Job, step: Any = None) -> Heard:
    heard = Heard(value=job.number)
    line = _Line(jobs=heard, newest=heard, job=job)  # type: ignore[arg-type]
    keep.step = step or line.step
    if step:
        line.step = step  # type: ignore[method-assign]
    _done(line, job, keep)
    return heard


def test_a_draft_looks_often_whether_it_is_still_wanted(keep: _Asking) -> None:
    run(keep, Job(text=TEXT, topics=("strings",), head={"design": 1}))
    looks = [time.process_time()]
    run(keep, Job(text=RAISED, topics=("strings",), head={"design": 2}), lambda: looks.append(time.process_time()))
    assert max(b - a for a, b in pairwise(looks)) < STEP


def test_a_job_that_is_superseded_ends_at_its_next_step(keep: _Asking) -> None:
    count = 0

    def step() -> None:
        nonlocal count
        count += 1
        if count == 20:
            raise SupersededError

    with pytest.raises(SupersededError):
        run(keep, Job(text=RAISED.replace("1.9 mm", "2.0 mm"), topics=("strings",), head={"design": 3}), step)
