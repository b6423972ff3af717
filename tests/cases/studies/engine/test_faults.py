"""The engine in trouble: killed, stopped, full disk, damaged log. No finished design is lost or computed again."""

from __future__ import annotations

import os
import shlex
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from rigs.cases import toy_study
from rigs.cases.study_runs import quiet, table
from rigs.cases.toy_study import evaluate, evaluations, tasks
from stringflux.cases.studies.engine import local_crew, study_folder
from stringflux.cases.studies.engine.engine import run_study
from stringflux.cases.studies.engine.task import Outcome

RESULTS = study_folder.RESULTS
TESTS = Path(toy_study.__file__).parents[2]
COUNT = 40
DOCUMENT = {"seconds": 0.02}


@pytest.fixture(autouse=True)
def one_program(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(study_folder, "code_version", lambda: toy_study.VERSION)  # as in the processes below


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, ...]:
    """The table of the study that nothing happens to."""
    folder = tmp_path_factory.mktemp("whole")
    log = folder.with_suffix(".log")
    return table(folder, run_study(tasks(COUNT, **DOCUMENT), folder, evaluate=evaluate(log), progress=quiet))


def command(folder: Path, log: Path, *more: str) -> list[str]:
    # imported rather than run: its function has one name here and there
    start = (f"import sys; sys.path[:0] = [{str(TESTS)!r}]; from rigs.cases import toy_study as t; "
             "sys.exit(t.main(sys.argv[1:]))")
    return [sys.executable, "-c", start, str(folder), str(COUNT), str(log), "seconds=0.02", *more]


def started(folder: Path, log: Path, *more: str) -> subprocess.Popen[str]:
    """A study as a process and its group of its own, after its first finished designs."""
    process = subprocess.Popen(command(folder, log, *more), stderr=subprocess.PIPE, text=True, start_new_session=True)
    until(lambda: finished(folder) >= 5, process)
    return process


def until(true: Callable[[], bool], process: subprocess.Popen[str]) -> None:
    for _ in range(1500):
        if true():
            return
        assert process.poll() is None, process.communicate()
        time.sleep(0.02)
    pytest.fail("nothing happened for half a minute")


def finished(folder: Path) -> int:
    path = folder / RESULTS
    return path.read_bytes().count(b"\n") if path.exists() else 0


def numbers(folder: Path) -> set[int]:
    asked = study_folder.identity(tasks(COUNT, **DOCUMENT), evaluate=evaluate(""), kind="study", about=None)
    with study_folder.StudyFolder(folder, asked, resume=True) as log:
        return set(log.found)


def gone_on(folder: Path, log: Path) -> list[Outcome]:
    return run_study(tasks(COUNT, **DOCUMENT), folder, evaluate=evaluate(log), resume=True, progress=quiet)


def test_killed_in_the_middle(tmp_path: Path, undisturbed: tuple[bytes, ...]) -> None:
    folder, log = tmp_path / "study", tmp_path / "log"
    process = started(folder, log)
    workers = toy_study.processes(log)
    process.kill()
    process.communicate()
    assert process.returncode == -signal.SIGKILL
    for worker in workers:
        wait_for_end(worker)  # nobody listens any more
    kept, before = numbers(folder), evaluations(log)
    assert 5 <= len(kept) < COUNT
    assert table(folder, gone_on(folder, log)) == undisturbed
    after = evaluations(log)
    assert set(after) == set(range(COUNT))
    assert {n for n in kept if after[n] != 1} == set(), "finished and computed again"
    # both workers had up to two designs whose results nobody heard
    assert sum(before.values()) - len(kept) <= 2 * local_crew.IN_HAND


def wait_for_end(process: int) -> None:
    for _ in range(500):
        try:
            os.kill(process, 0)
        except ProcessLookupError:
            return
        if Path(f"/proc/{process}/stat").exists() and ") Z " in Path(f"/proc/{process}/stat").read_text():
            return  # its end is not collected: an orphan in a container without an init
        time.sleep(0.02)
    pytest.fail(f"the worker {process} of a killed study goes on")


def test_ctrl_c_in_the_middle(tmp_path: Path, undisturbed: tuple[bytes, ...]) -> None:
    folder, log = tmp_path / "study", tmp_path / "log"
    process = started(folder, log)
    os.killpg(process.pid, signal.SIGINT)  # a terminal sends it to the workers too
    _, err = process.communicate(timeout=30)
    assert process.returncode == 130
    said = err.splitlines()[-1]
    kept = len(numbers(folder))
    assert said.startswith(f"stringflux: stopped; {kept} of {COUNT} designs are finished and kept in {folder}")
    assert "--resume" in said
    assert "Traceback" not in err
    assert table(folder, gone_on(folder, log)) == undisturbed
    assert set(evaluations(log)) == set(range(COUNT))


def test_a_worker_killed_from_outside(tmp_path: Path, undisturbed: tuple[bytes, ...]) -> None:
    folder, log = tmp_path / "study", tmp_path / "log"
    process = started(folder, log)
    victim = next(iter(toy_study.processes(log)))
    os.kill(victim, signal.SIGKILL)
    _, err = process.communicate(timeout=30)
    assert process.returncode == 0, err
    assert victim in toy_study.processes(log)
    assert table(folder, gone_on(folder, log)) == undisturbed  # with nothing left to compute
    assert max(evaluations(log).values()) <= 2
    assert sum(evaluations(log).values()) <= COUNT + 1


def test_a_design_that_kills_its_worker(tmp_path: Path) -> None:
    log = tmp_path / "log"
    given = tasks(12, dies=[7], dies_once=9)
    outcomes = run_study(given, tmp_path / "study", evaluate=evaluate(log), workers=2, progress=quiet)
    assert [o.number for o in outcomes if o.failure] == [7]
    assert outcomes[7].failure == "it ended its worker process twice (signal SIGKILL; perhaps the memory was short)"
    assert evaluations(log) == {**dict.fromkeys(range(12), 1), 7: 2, 9: 2}


def half_done(folder: Path, log: Path) -> bytes:
    """A study whose first half is finished; its log."""
    given = tasks(COUNT, **DOCUMENT)
    asked = study_folder.identity(given, evaluate=evaluate(log), kind="study", about=None)
    with study_folder.StudyFolder(folder, asked, resume=False) as kept:
        for task in given[: COUNT // 2]:
            kept.append(toy_study.toy(task, str(log)))
    return (folder / RESULTS).read_bytes()


@pytest.mark.slow
@pytest.mark.parametrize("cut", [1, 2, 100])
def test_a_last_line_cut_off(cut: int, tmp_path: Path, undisturbed: tuple[bytes, ...]) -> None:
    folder, log = tmp_path / "study", tmp_path / "log"
    raw = half_done(folder, log)
    (folder / RESULTS).write_bytes(raw[:-cut])
    assert table(folder, gone_on(folder, log)) == undisturbed
    # the line's end alone is no loss
    again = {COUNT // 2 - 1: 2} if cut > 1 else {}
    assert evaluations(log) == {**dict.fromkeys(range(COUNT), 1), **again}
    assert finished(folder) == COUNT


def test_a_flipped_bit_costs_its_line(tmp_path: Path) -> None:
    folder, log = tmp_path / "study", tmp_path / "log"
    raw = half_done(folder, log)
    begin = raw.index(b"\n") + 1
    length = raw.index(b"\n", begin) + 1 - begin
    for place in [*range(0, length - 1, 3), length - 1]:
        damaged = bytearray(raw)
        damaged[begin + place] ^= 1 << place % 8
        (folder / RESULTS).write_bytes(damaged)
        lost = set(range(COUNT // 2)) - numbers(folder)
        # without the end of its line the next one is not to be told from it
        assert lost == ({1, 2} if place == length - 1 else {1}), place


def test_a_flipped_bit_is_computed_again(tmp_path: Path, undisturbed: tuple[bytes, ...]) -> None:
    folder, log = tmp_path / "study", tmp_path / "log"
    raw = half_done(folder, log)
    place = raw.index(b'"sine":0.', 700) + 9  # still a number, but another one
    (folder / RESULTS).write_bytes(raw[:place] + bytes([raw[place] ^ 1]) + raw[place + 1 :])
    assert table(folder, gone_on(folder, log)) == undisturbed
    assert sum(evaluations(log).values()) == COUNT + 1
    assert finished(folder) == COUNT, "the damaged line should be gone"


def test_what_a_killed_writer_left_is_cleared(tmp_path: Path) -> None:
    folder = tmp_path / "study"
    folder.mkdir()
    (folder / ".study.json.writing-99999").write_text("{")  # killed before the study had a name
    half_done(folder, tmp_path / "log")
    assert sorted(path.name for path in folder.iterdir()) == [".lock", RESULTS, study_folder.STUDY]


TMPFS = """
mount -t tmpfs -o size=8k none {disk} || exit 99
{first}; echo $?
cp {disk}/study/results.jsonl {kept}
mount -o remount,size=4m {disk} && {second}; echo $?
cp -r {disk}/study {copy}
"""
QUOTA = """
(ulimit -f 4; {first}); echo $?
cp {disk}/study/results.jsonl {kept}
{second}; echo $?
cp -r {disk}/study {copy}
"""


def test_a_full_disk(tmp_path: Path, undisturbed: tuple[bytes, ...]) -> None:
    disk, log, kept, copy = (tmp_path / name for name in ("disk", "log", "kept", "copy"))
    disk.mkdir()
    folder = disk / "study"
    words = {
        "disk": disk, "kept": kept, "copy": copy,
        "first": shlex.join(command(folder, log)), "second": shlex.join(command(folder, log, "resume")),
    }  # fmt: skip
    # a disk of our own where the system lets us have one, else a quota: the kernel refuses the write in either
    done = subprocess.run(["unshare", "-rm", "sh", "-c", TMPFS.format(**words)], capture_output=True, text=True)
    if done.returncode == 99 or "unshare" in done.stderr:
        done = subprocess.run(["bash", "-c", QUOTA.format(**words)], capture_output=True, text=True)
    assert done.stdout.split() == ["1", "0"], done.stderr
    (said,) = [line for line in done.stderr.splitlines() if line.startswith("stringflux:")]
    assert "results.jsonl cannot be written (" in said
    assert "--resume" in said
    assert "Traceback" not in done.stderr
    whole = kept.read_bytes().count(b"\n")
    assert 5 <= whole < COUNT
    again = evaluations(log)
    rows = [toy_number(line) for line in kept.read_bytes().splitlines()[:whole]]
    assert [n for n in rows if again[n] != 1] == [], "finished and computed again"
    assert table(copy, gone_on(copy, log)) == undisturbed
    assert evaluations(log) == again, "the second run finished it"


def toy_number(line: bytes) -> int:
    return int(line.split(b'"number":')[1].split(b",")[0])


def test_what_failed_for_the_machines_sake_is_tried_again(tmp_path: Path) -> None:
    """A design without memory, once; one that cannot be computed, which only --retry tries again."""
    folder, log = tmp_path / "study", tmp_path / "log"
    designs = tasks(4, starves=1, raises=2)
    first = run_study(designs, folder, evaluate=evaluate(log), workers=1, progress=quiet)
    failed = [(o.failure != "", o.machine) for o in first]
    assert failed == [(False, False), (True, True), (True, False), (False, False)]
    again = run_study(designs, folder, evaluate=evaluate(log), workers=1, resume=True, progress=quiet)
    assert [o.failure != "" for o in again] == [False, False, True, False]
    assert evaluations(log) == {0: 1, 1: 2, 2: 1, 3: 1}
    run_study(designs, folder, evaluate=evaluate(log), workers=1, resume=True, retry=True, progress=quiet)
    assert evaluations(log) == {0: 1, 1: 2, 2: 2, 3: 1}
    assert run_study(designs, folder, evaluate=evaluate(log), workers=1, resume=True, progress=quiet)[1] == again[1]


def test_a_worker_that_was_killed_twice_is_the_machines_fault(tmp_path: Path) -> None:
    folder, log = tmp_path / "study", tmp_path / "log"
    designs = tasks(3, dies=(1,))
    found = run_study(designs, folder, evaluate=evaluate(log), workers=1, progress=quiet)
    assert [o.machine for o in found] == [False, True, False]


def test_a_wrong_environment_is_said_before_anything_is_computed(tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = subprocess.run([sys.executable, "-m", "stringflux.cases", "compare", "bench-single", "--vary",
                           "strings.gap=2mm,3mm", "--quality", "draft", "--out", str(out)], capture_output=True,
                          text=True, check=False, env={**os.environ, "STRINGFLUX_CACHE_SIZE": "much"})
    assert done.returncode == 2
    assert "STRINGFLUX_CACHE_SIZE: received \"much\"" in done.stderr
    assert not out.exists()
