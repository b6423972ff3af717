"""The engine in peace: the same bytes for any number of workers, failed designs, and folders it refuses."""

from __future__ import annotations

import json
import math
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from rigs.cases.study_runs import quiet, table
from rigs.cases.toy_study import evaluate, evaluations, tasks
from stringflux.cases.studies.engine import local_crew, study_folder
from stringflux.cases.studies.engine.dealing import Shares
from stringflux.cases.studies.engine.engine import run_study
from stringflux.geometry.errors import CaseError, OutputError, StringfluxError, StudyStopped


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> dict[int, tuple[Path, list[Any]]]:
    """A study with failed designs, by one and by two workers."""
    out = {}
    for workers in (1, 2):
        folder = tmp_path_factory.mktemp("study") / "s"
        given = tasks(30, raises=4, faulty=5, seconds=0.01)
        log = folder.with_name("log")
        out[workers] = folder, run_study(given, folder, evaluate=evaluate(log), workers=workers, progress=quiet)
    return out


def test_the_same_for_any_number_of_workers(pair: dict[int, tuple[Path, list[Any]]]) -> None:
    assert [o.number for o in pair[2][1]] == list(range(30))
    assert table(*pair[1]) == table(*pair[2])


def test_floats_come_back_to_the_last_digit(pair: dict[int, tuple[Path, list[Any]]]) -> None:
    folder, outcomes = pair[2]
    for outcome in outcomes:
        if not outcome.failure:
            x = outcome.number / 7
            assert outcome.values["x"] == x
            assert outcome.values["sine"] == math.sin(x) / 3
    assert outcomes[3].values["odd"] == math.inf
    assert math.copysign(1, outcomes[2].values["odd"]) == -1
    log = folder.with_name("log")
    before = evaluations(log)
    again = run_study(
        tasks(30, raises=4, faulty=5, seconds=0.01), folder, evaluate=evaluate(log), resume=True, progress=quiet
    )
    assert again == outcomes
    assert evaluations(log) == before


def test_what_a_design_raises_is_its_failure(pair: dict[int, tuple[Path, list[Any]]]) -> None:
    outcomes = pair[1][1]
    assert outcomes[4].failure == "the design did not converge"
    assert outcomes[5].failure == "ZeroDivisionError"
    assert outcomes[5].values == {}
    assert sum(bool(o.failure) for o in outcomes) == 2


def test_every_line_is_json_of_its_own(pair: dict[int, tuple[Path, list[Any]]]) -> None:
    folder, _ = pair[1]
    lines = (folder / study_folder.RESULTS).read_text().splitlines()
    assert sorted(json.loads(line)["number"] for line in lines) == list(range(30))
    study = json.loads((folder / study_folder.STUDY).read_text())
    assert study["designs"] == 30
    assert study["kind"] == "study"


def test_neighbours_stay_together_and_nobody_waits() -> None:
    shares = Shares(tasks(12), range(12))
    shares.deal("ab")
    runs = {"a": [shares.take("a") for _ in range(3)], "b": [shares.take("b")]}
    assert [t.number for t in runs["a"] if t] == [0, 1, 2]
    assert [t.number for t in runs["b"] if t] == [6]
    late = shares.take("c")  # half of the longest run, from its end
    assert late is not None
    assert late.number == 9
    shares.give_back("c", [late])
    assert len(shares) == 8
    rest = [t.number for t in iter(partial(shares.take, "c"), None)]
    assert rest[:3] == [9, 10, 11]
    assert sorted(rest) == [3, 4, 5, 7, 8, 9, 10, 11]


def test_progress_counts_finished_and_failed(tmp_path: Path) -> None:
    told: list[tuple[int, int, int]] = []
    run_study(
        tasks(5, raises=1),
        tmp_path,
        evaluate=evaluate(tmp_path.with_suffix(".log")),
        workers=1,
        progress=lambda *counts: told.append(counts),
    )
    assert told == [(0, 5, 0), (1, 5, 0), (2, 5, 1), (3, 5, 1), (4, 5, 1), (5, 5, 1)]


def test_a_study_without_designs_starts_nothing(tmp_path: Path) -> None:
    assert run_study([], tmp_path, evaluate=evaluate("log"), progress=quiet) == []


def refused(folder: Path, count: int = 3, **options: Any) -> str:
    options.setdefault("evaluate", evaluate("never"))
    with pytest.raises(OutputError) as caught:
        run_study(tasks(count), folder, progress=quiet, **options)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_foreign_and_other_folders_are_refused(tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "letter.txt").write_text("dear")
    assert "holds files but no study.json" in refused(mine)
    assert [path.name for path in mine.iterdir()] == ["letter.txt"]
    assert "which is a file" in refused(mine / "letter.txt")
    assert "is a file and can hold no folder" in refused(mine / "letter.txt" / "below")

    folder = tmp_path / "study"
    asked = study_folder.identity(tasks(3), evaluate=evaluate("never"), kind="compare", about={"case": "x"})
    with study_folder.StudyFolder(folder, asked, resume=False):
        pass
    assert "add --resume" in refused(folder, kind="compare")
    assert "a compare study" in refused(folder, kind="tolerance", resume=True)
    assert "of other designs" in refused(folder, kind="compare", count=4, resume=True)
    assert "of other designs" in refused(folder, kind="compare", evaluate=quiet, resume=True)
    (folder / study_folder.STUDY).write_text("{")
    assert "is damaged" in refused(folder, kind="compare", resume=True)


def test_results_of_another_program_are_not_mixed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "study"
    run_study(tasks(1), folder, evaluate=evaluate(tmp_path / "log"), progress=quiet)
    monkeypatch.setattr(study_folder, "code_version", lambda: "0.0.9+abc")
    assert "another version of the program" in refused(folder, count=1, resume=True)


def test_two_at_once_are_refused(tmp_path: Path) -> None:
    asked = study_folder.identity(tasks(3), evaluate=evaluate("never"), kind="study", about=None)
    with study_folder.StudyFolder(tmp_path, asked, resume=False):
        assert "another process is computing" in refused(tmp_path, resume=True)
    with study_folder.StudyFolder(tmp_path, asked, resume=True):
        pass


@pytest.mark.parametrize("number", [0, -1, 5000])
def test_impossible_numbers_of_workers(number: int, tmp_path: Path) -> None:
    with pytest.raises(CaseError, match=f"--workers: received {number}"):
        run_study(tasks(3), tmp_path, evaluate=evaluate("never"), workers=number, progress=quiet)


class Unreadable:
    """A function no worker can read."""

    def __call__(self, task: Any) -> Any:
        raise AssertionError("it was read after all")

    def __reduce__(self) -> Any:
        return int, ("no number",)


def test_workers_that_cannot_start_end_the_study(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(StringfluxError, match=r"no worker process can be started here \(ValueError: invalid literal"):
        run_study(tasks(3), tmp_path / "a", evaluate=Unreadable(), workers=1, progress=quiet)
    monkeypatch.setattr(local_crew, "_work", exit)  # gone before their first word
    with pytest.raises(StringfluxError, match=r"no worker process can be started here \(exit code"):
        run_study(tasks(3), tmp_path / "b", evaluate=evaluate("never"), workers=1, progress=quiet)


def test_stopped_has_its_exit_code() -> None:
    assert StudyStopped.exit_code == 130
