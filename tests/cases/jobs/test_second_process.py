"""A second process: its result, its errors, and its end."""

from __future__ import annotations

import math
import operator
import os
import time

import pytest

from stringflux.cases.jobs.second_process import beside


def test_gives_what_the_work_returns() -> None:
    with beside(math.comb, 5, 2) as result:
        assert result() == 10


def test_runs_in_a_process_of_its_own() -> None:
    with beside(os.getpid) as result:
        assert result() != os.getpid()


def test_an_error_of_the_work_is_raised_where_it_is_asked_for() -> None:
    with beside(operator.truediv, 1, 0) as result, pytest.raises(ZeroDivisionError):
        result()


def test_if_the_process_dies_the_work_is_done_here() -> None:
    """`_exit` ends the second process; done again here, it is another function that answers."""
    here = os.getpid()
    with beside(end_unless, here) as result:
        assert result() == "done here"


def end_unless(number: int) -> str:
    """End the process at once, unless it is this one."""
    if os.getpid() != number:
        os._exit(1)
    return "done here"


def test_ends_with_the_block() -> None:
    begin = time.monotonic()
    with beside(time.sleep, 600):
        pass
    assert time.monotonic() - begin < 300
