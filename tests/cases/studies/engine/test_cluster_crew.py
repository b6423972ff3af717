"""The engine on a real Dask scheduler with two workers, started by the commands of the documentation.

The tests go from a scheduler without workers to one that is gone, and share what they start.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from rigs.cases import toy_study
from rigs.cases.study_runs import quiet, table
from rigs.cases.toy_study import evaluate, evaluations, tasks
from stringflux.cases.studies.engine import cluster_crew, study_folder
from stringflux.cases.studies.engine.engine import run_study
from stringflux.geometry.errors import CaseError, MissingLibraryError, StringfluxError

DOCUMENT = {"seconds": 0.02, "raises": 4}


class Cluster:
    """A scheduler, and its workers once they are started."""

    def __init__(self, folder: Path) -> None:
        self._file, self._folder = folder / "scheduler.json", folder
        self._processes: list[subprocess.Popen[bytes]] = []
        self._run("scheduler", "--host", "127.0.0.1", "--port", "0")
        for _ in range(1500):
            if self._file.exists():
                break
            assert self._processes[0].poll() is None, (folder / "scheduler.log").read_text()
            time.sleep(0.02)
        self.address: str = json.loads(self._file.read_text())["address"]

    def start_workers(self) -> None:
        self._run("worker", "--nworkers", "2", "--nthreads", "1", "--preload", "rigs.cases.toy_study",
                  "--local-directory",
                  str(self._folder))  # fmt: skip

    def end_scheduler(self) -> None:
        self._processes[0].kill()

    def close(self) -> None:
        for process in self._processes:
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)  # with those it looks after; by themselves they leave slowly
            process.wait()

    def _run(self, what: str, *more: str) -> None:
        environment = {**os.environ, "PYTHONPATH": str(Path(toy_study.__file__).parents[2])}
        line = [sys.executable, "-m", f"distributed.cli.dask_{what}", "--scheduler-file", str(self._file)]
        with (self._folder / f"{what}.log").open("wb") as log:
            process = subprocess.Popen([*line, *more, "--no-dashboard"], env=environment, stdout=log, stderr=log,
                                       start_new_session=True)  # fmt: skip
        self._processes.append(process)


@pytest.fixture(scope="module")
def scheduler(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    cluster = Cluster(tmp_path_factory.mktemp("cluster"))
    yield cluster
    cluster.close()


@pytest.fixture(scope="module")
def cluster(scheduler: Cluster) -> Cluster:
    scheduler.start_workers()
    return scheduler


@pytest.fixture(autouse=True)
def one_program(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_crew, "code_version", lambda: toy_study.VERSION)  # as on the workers


def run(folder: Path, cluster: Cluster, count: int = 20, **document: Any) -> list[Any]:
    return run_study(
        tasks(count, **document), folder, evaluate=evaluate(folder.with_suffix(".log")), cluster=cluster.address,
        progress=quiet,
    )  # fmt: skip


def test_a_scheduler_without_workers(scheduler: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_crew, "WORKERS", 0.0)
    with pytest.raises(CaseError, match=f"has no workers; `dask worker {scheduler.address} "):
        run(tmp_path / "study", scheduler)


@pytest.mark.slow
def test_the_same_bytes_as_here(cluster: Cluster, tmp_path: Path) -> None:
    there = run(tmp_path / "there", cluster, **DOCUMENT)
    log = tmp_path / "here.log"
    here = run_study(tasks(20, **DOCUMENT), tmp_path / "here", evaluate=evaluate(log), workers=1, progress=quiet)
    assert table(tmp_path / "there", there) == table(tmp_path / "here", here)
    assert there[4].failure == "the design did not converge"
    assert evaluations(tmp_path / "there.log") == dict.fromkeys(range(20), 1)


@pytest.mark.slow
def test_workers_that_die(cluster: Cluster, tmp_path: Path) -> None:
    outcomes = run(tmp_path / "study", cluster, dies=[7], dies_once=12, seconds=0.02)
    assert [o.number for o in outcomes if o.failure] == [7]
    assert outcomes[7].failure == "it ended its worker twice"
    again = evaluations(tmp_path / "study.log")
    assert again[7] == again[12] == 2
    assert set(again) == set(range(20))


def test_another_program_on_a_worker(cluster: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_crew, "code_version", lambda: "0.0.9+abc")
    with pytest.raises(CaseError, match=r"a worker has another version of stringflux \(.*; here is 0.0.9\+abc\)"):
        run(tmp_path / "study", cluster)


def test_a_worker_that_lacks_the_function(cluster: Cluster, tmp_path: Path) -> None:
    sys.path.insert(0, str(tmp_path))
    try:
        (tmp_path / "only_here.py").write_text("def f(task):\n    return None\n")
        import only_here

        with pytest.raises(CaseError, match=r"must have the same stringflux as this machine, .*; install it there"):
            run_study(tasks(3), tmp_path / "s", evaluate=only_here.f, cluster=cluster.address, progress=quiet)
    finally:
        sys.path.remove(str(tmp_path))


def test_a_scheduler_that_goes_away(cluster: Cluster, tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    folder, done = tmp_path / "study", [0]

    def progress(finished: int, total: int, failed: int) -> None:
        if finished == 5:
            cluster.end_scheduler()
        done[0] = finished

    log = folder.with_suffix(".log")
    options: dict[str, Any] = {"evaluate": evaluate(log), "progress": progress}
    with pytest.raises(StringfluxError, match=r"does not answer any more; .*--resume"):
        run_study(tasks(40, **DOCUMENT), folder, cluster=cluster.address, **options)
    assert caplog.text == "", "what Dask logs is no news to a person"
    assert 5 <= done[0] < 40
    lines = (folder / study_folder.RESULTS).read_bytes().count(b"\n")
    assert lines == done[0]
    before = evaluations(log)
    outcomes = run_study(tasks(40, **DOCUMENT), folder, workers=1, resume=True, **options)
    assert [o.number for o in outcomes if o.failure] == [4]
    after = evaluations(log)
    assert set(after) == set(range(40))
    assert sum((after - before).values()) == 40 - lines


def test_no_scheduler_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_crew, "CONNECT", 0.2)
    folder = tmp_path / "study"
    for address, said in (
        ("tcp://127.0.0.1:9", "no scheduler answers at"),
        ("127.0.0.1:9", "no scheduler answers at"),
        ("nowhere", "write a scheduler's address, such as tcp://127.0.0.1:8786"),
        ("tcp://127.0.0.1", "write a scheduler's address"),
    ):
        with pytest.raises(CaseError, match=said) as caught:
            run_study(tasks(3), folder, evaluate=evaluate("never"), cluster=address, progress=quiet)
        assert "\n" not in str(caught.value)
    with pytest.raises(CaseError, match="--workers: counts processes of this machine"):
        run_study(tasks(3), folder, evaluate=evaluate("never"), cluster="127.0.0.1:9", workers=2, progress=quiet)
    assert not folder.exists()


def test_without_the_library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(MissingLibraryError, match="`pip install distributed` brings it"):
        run_study(tasks(3), tmp_path, evaluate=evaluate("never"), cluster="127.0.0.1:9", progress=quiet)
