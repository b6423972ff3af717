"""The computing process of the live page, in this process: what it tells, in which order, and when it gives up."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import pytest

from rigs.live_server import head
from stringflux.cases import solve
from stringflux.cases.files.load import find_case
from stringflux.cases.jobs.mesh_error import MESH_ERRORS
from stringflux.cases.kept.store import memory
from stringflux.cases.live.hand.design import read_design
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


@pytest.mark.slow
def test_a_draft_looks_often_whether_it_is_still_wanted(keep: _Asking) -> None:
    for text in (TEXT, RAISED.replace("1.9 mm", "1.85 mm")):  # the table of a pole as high as this is made once
        run(keep, Job(text=text, topics=("strings",), head={"design": 1}))
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


@pytest.mark.slow
def test_what_was_moved_comes_first_and_the_rest_after_and_at_rest_all_is_as_predicted(keep: _Asking) -> None:
    run(keep, Job(text=TEXT, topics=("strings",), head={"design": 4}))
    lifted = RAISED.replace("1.9 mm", "2.1 mm")
    heard = run(keep, Job(text=lifted, topics=("moved", "estimate", "strings"), head={"design": 5}))
    assert heard.kinds == ["moved", "estimate", "strings", "done"]
    first, all_, last = (s["answer"]["strings"] for s in heard.said if s["kind"] in ("moved", "estimate", "strings"))
    assert [s["anew"] for s in first] == [False] * 5 + [True]
    assert all(s["anew"] for s in all_)
    assert first[5]["sensitivity"] == all_[5]["sensitivity"]
    found = solve(read_design(lifted), quality="draft").prediction(maps=False).strings
    assert [s["sensitivity"] for s in last] == [s.sensitivity for s in found]
    draft = MESH_ERRORS["row", "draft"].sensitivity / 100
    assert [s["sensitivity"] for s in all_] == pytest.approx([s["sensitivity"] for s in last], rel=draft)
    assert all_[5]["sensitivity"] != last[5]["sensitivity"]  # else it is no first look


def test_without_a_neighbour_there_is_no_first_look(keep: _Asking) -> None:
    heard = run(keep, Job(text=TEXT.replace('"17 mm"', '"16 mm"').replace('"-12 mm"', '"-11 mm"'),
                          topics=("moved", "estimate"), head={"design": 6}))
    assert [s["answer"]["refused"][:8] for s in heard.said if s["kind"] in ("moved", "estimate")] == ["estimate"] * 2
