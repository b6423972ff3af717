"""What every test shares: quiet figures, steady hypothesis runs, and no skipped test in CI."""

from __future__ import annotations

import os
import signal
from collections import Counter
from collections.abc import Generator, Iterator
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

from rigs.forgetting import forget

if TYPE_CHECKING:
    from stringflux.cases.kept.store import Store

IN_CI = os.environ.get("CI", "").lower() in ("true", "1")

# Before anything imports matplotlib: figures are files here.
os.environ.setdefault("MPLBACKEND", "Agg")

# Whoever runs the tests in the background of a script has Ctrl-C ignored, and processes inherit that: the tests that
# send it to commands of their own would wait in vain.
if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# A busy machine is no failure, hence no deadline; in CI the same code gives the same examples.
settings.register_profile("house", deadline=None, derandomize=IN_CI)
settings.load_profile("house")


SLOW = Path(__file__).parent / "slow", Path(__file__).parent / "browser"


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """All tests of some folders are slow ones (`make slow`, not `make test`).

    For several processes: files of few tests first, which take longest, those of tests/slow before all; one that is
    begun last leaves the others idle.
    """
    for item in items:
        if any(folder in item.path.parents for folder in SLOW):
            item.add_marker("slow")
    if os.environ.get("PYTEST_XDIST_WORKER"):
        many = Counter(item.path for item in items)
        items.sort(key=lambda item: (SLOW[0] not in item.path.parents, many[item.path]))


def _fail_if_skipped(report: pytest.TestReport | pytest.CollectReport) -> None:
    """Turn a skip into a failure; an expected failure (``wasxfail``) is none."""
    if report.skipped and not hasattr(report, "wasxfail"):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome = "failed"
        report.longrepr = f"no test may be skipped in CI: {reason}"


@cache
def _solutions() -> Store:
    """Those of this process, until it has grown much (`_forgotten`)."""
    from stringflux.cases.kept.store import memory

    return memory()


@pytest.fixture
def two_cores(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """This process may use another core, as the command's own does, on a machine of any size."""
    from stringflux.solver.aside import allow

    monkeypatch.setattr(os, "sched_getaffinity", lambda pid: {0, 1})
    allow()
    yield
    allow(False)


@pytest.fixture(scope="module")
def shared_solutions() -> Iterator[None]:
    """Commands and pickups of a module, each of which would solve with a memory of its own, share one.

    To the last digit they give the same (tests/cases/kept/test_stages.py). Not for tests that count what is solved,
    or hold two solutions of the same inputs against each other.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("stringflux.cases.solved.solve.memory", _solutions)
        yield


@pytest.fixture(scope="module", autouse=True)
def _forgotten(request: pytest.FixtureRequest) -> Iterator[None]:
    """What functions of a test module keep (solutions, of some 100 MB each) goes with its last test."""
    yield
    forget(request.module, _solutions.cache_clear)


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    if IN_CI:
        _fail_if_skipped(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    report = yield
    if IN_CI:
        _fail_if_skipped(report)
    return report
