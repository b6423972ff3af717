"""What is made by a copy of this process is what this process makes, and a copy that fails costs nothing but time."""

from __future__ import annotations

import gc
import os
import pickle
import signal
import sys

import numpy as np
import pytest

from stringflux.cases import load_case, solve
from stringflux.solver import aside as module
from stringflux.solver.aside import Ready, allow, aside

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="processes are copied on Linux alone")


def test_a_process_that_has_not_said_so_is_not_copied():
    begun = aside(os.getpid)
    assert not begun.begun
    assert begun() == os.getpid()


def test_nor_is_one_with_a_single_core(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(os, "sched_getaffinity", lambda pid: {0})
    allow()
    try:
        assert aside(os.getpid)() == os.getpid()
    finally:
        allow(False)


@pytest.mark.usefixtures("two_cores")
def test_another_process_makes_it_once():
    begun = aside(os.getpid)
    assert begun.begun
    assert begun() == begun() != os.getpid()


@pytest.mark.usefixtures("two_cores")
def test_what_both_have_comes_back_as_this_process_has_it():
    large, other = np.arange(5.0), np.arange(3.0)
    mine, copy, double = aside(lambda: (large, other, 2 * large), large)()
    assert mine is large
    assert copy is not other
    assert np.array_equal(copy, other)
    assert np.array_equal(double, 2 * large)


@pytest.mark.usefixtures("two_cores")
def test_only_so_many_at_once():
    first, second = aside(os.getpid), aside(os.getpid)
    assert not second.begun
    third = aside(os.getpid, most=2)
    assert third.begun
    assert len({first(), second(), third()}) == 3
    fourth = aside(os.getpid)
    assert fourth.begun
    assert fourth() != os.getpid()


@pytest.mark.usefixtures("two_cores")
@pytest.mark.parametrize("ready", [False, True])
def test_one_that_is_never_asked_for_ends_and_counts_no_more(ready: bool):
    heard, told = os.pipe()

    def waits() -> None:
        os.close(heard)
        signal.pause()

    begun = Ready(waits, lambda given: given) if ready else aside(waits)
    os.close(told)  # the copy alone holds it then
    os.set_blocking(heard, False)
    child = (begun._copy if isinstance(begun, Ready) else begun)._child
    assert child
    del begun
    gc.collect()
    assert os.read(heard, 1) == b""  # its only writer is gone
    os.close(heard)
    with pytest.raises(ChildProcessError):
        os.waitpid(child, os.WNOHANG)  # nor is anything of it left
    assert aside(os.getpid)() != os.getpid()


@pytest.mark.parametrize("end", ["dropped", "used", "used by a copy that is gone", "given what none can read",
                                 "no room for what is given", "no room for a process"])
def test_one_made_ready_leaves_no_file_open(two_cores: None, monkeypatch: pytest.MonkeyPatch, end: str):
    def files() -> set[str]:
        return set(os.listdir("/proc/self/fd"))

    def full(*args: object) -> int:
        raise OSError(24, "Too many open files")

    if end.startswith("no room"):
        monkeypatch.setattr(os, "memfd_create" if "given" in end else "fork", full)
    before = files()
    made = Ready(lambda: None, lambda given: given)
    if end == "used by a copy that is gone":
        assert made._copy is not None
        os.kill(made._copy._child, signal.SIGKILL)
    if end == "given what none can read":
        with pytest.raises((AttributeError, pickle.PicklingError)):
            made(lambda: None)
    elif end != "dropped":
        assert made(bytes(300_000))() == bytes(300_000)
    del made
    gc.collect()
    assert files() == before
    assert aside(os.getpid)() != os.getpid() or end == "no room for a process"


@pytest.mark.usefixtures("two_cores")
def test_a_copy_ends_none_that_it_has_from_before():
    first = aside(os.getpid)
    begun = {"first": first}

    def drops() -> int:
        begun.clear()
        gc.collect()
        return os.getpid()

    del first
    second = aside(drops, most=2)
    assert len({begun["first"](), second(), os.getpid()}) == 3


@pytest.mark.usefixtures("two_cores")
def test_a_copy_makes_no_copies():
    pid, inner = aside(lambda: (os.getpid(), aside(os.getpid)()))()
    assert pid == inner


@pytest.mark.usefixtures("two_cores")
def test_an_error_is_raised_where_the_thing_is_asked_for():
    def fails() -> None:
        raise ValueError("no such thing")

    begun = aside(fails)
    with pytest.raises(ValueError, match="no such thing"):
        begun()


@pytest.mark.usefixtures("two_cores")
def test_what_a_killed_copy_was_to_make_is_made_here():
    here = os.getpid()

    def make() -> int:
        if os.getpid() != here:
            os.kill(os.getpid(), signal.SIGKILL)
        return os.getpid()

    assert aside(make)() == here


def test_a_copy_made_ready_makes_what_it_is_given(two_cores: None):
    ready: list[int] = []
    made = Ready(lambda: ready.append(os.getpid()), lambda given: (os.getpid(), list(ready), 2 * given))
    beside = aside(os.getpid)  # while it waits there is room for another
    assert beside.begun
    beside()
    pid, first, double = made(np.arange(100_000.0))()  # more than a pipe holds
    assert [pid] == first != [os.getpid()]
    assert np.array_equal(double, 2 * np.arange(100_000.0))
    assert ready == []


def test_it_is_made_here_where_there_is_no_copy():
    ready: list[int] = []
    made = Ready(lambda: ready.append(1), lambda given: (os.getpid(), given))
    assert made(7)() == (os.getpid(), 7)
    assert ready == []


@pytest.mark.parametrize("early", [True, False])
def test_it_is_made_here_where_the_copy_was_killed(two_cores: None, early: bool):
    here = os.getpid()

    def die() -> None:
        if os.getpid() != here:
            os.kill(os.getpid(), signal.SIGKILL)

    def make(given: bytes) -> int:
        die()
        return len(given)

    made = Ready(die if early else lambda: None, make)
    assert made(bytes(300_000))() == 300_000
    assert aside(os.getpid)() != here  # and it counts no more


@pytest.mark.slow
@pytest.mark.usefixtures("two_cores")
def test_a_build_has_the_same_figures_to_the_last_digit(monkeypatch: pytest.MonkeyPatch):
    case, begun = load_case("stacked-six"), []
    original = module.Aside._begin
    monkeypatch.setattr(module.Aside, "_begin", lambda self: (begun.append(1), original(self))[1])
    beside = solve(case, quality="draft")
    with_copies = (beside.prediction(maps=False, neighbours=True), beside.neighbours(),
                   beside.solved.signal_inductances())
    assert len(begun) >= 4
    allow(False)
    alone = solve(case, quality="draft")
    assert [(s.sensitivity, s.linkage) for s in with_copies[0].strings] == [
        (s.sensitivity, s.linkage) for s in alone.prediction(maps=False).strings]
    assert with_copies[0].poles == alone.prediction(maps=False).poles
    assert with_copies[0].notes == alone.prediction(maps=False).notes
    assert with_copies[1] == alone.neighbours()
    assert with_copies[2] == alone.solved.signal_inductances()
