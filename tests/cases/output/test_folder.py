"""A results folder takes the place of its own command's alone, in one step, and whoever comes next completes it."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from rigs.cases.results_folders import contents, old_results
from stringflux.cases.output import folder_swap
from stringflux.cases.output.folder import PREDICTION, replaced_folder
from stringflux.geometry.errors import OutputError


def test_new_results_take_the_place_of_old_ones(tmp_path: Path) -> None:
    target = tmp_path / "out"
    old_results(target)
    with replaced_folder(target) as temp:
        (temp / "prediction.json").write_text("{}", encoding="utf-8")
    assert contents(target) == {"prediction.json": "{}", "mine.txt": "the person's own"}
    assert list(tmp_path.iterdir()) == [target]


def test_a_failed_swap_puts_the_old_results_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "out"
    old_results(target)
    before, rename = contents(target), Path.rename

    monkeypatch.setattr(folder_swap, "exchanged", lambda a, b: False)

    def refuse(path: Path, to: Path) -> Path:
        if ".writing-" in path.name:
            raise OSError(16, "Device or resource busy")
        return rename(path, to)

    monkeypatch.setattr(Path, "rename", refuse)
    with pytest.raises(OutputError, match="busy"), replaced_folder(target):
        pass
    assert contents(target) == before
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("document", ["{}", "[]", "", '{"files": ["thesis.tex"]}', "[" * 100_000,
                                      '{"program": "other", "files": ["prediction.json", "thesis.tex"]}'])
def test_a_document_of_something_else_is_no_earlier_result(tmp_path: Path, document: str) -> None:
    target = tmp_path / "out"
    target.mkdir()
    (target / "prediction.json").write_text(document, encoding="utf-8")
    (target / "thesis.tex").write_text("years of work", encoding="utf-8")
    with pytest.raises(OutputError, match="not by stringflux"), replaced_folder(target):
        raise AssertionError("nothing may be computed")
    assert contents(target) == {"prediction.json": document, "thesis.tex": "years of work"}
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("make", [Path.mkdir, lambda p: p.write_text("a photograph")])
def test_a_file_of_theirs_with_a_name_of_ours_is_not_replaced(tmp_path: Path, make: object) -> None:
    target = tmp_path / "out"
    old_results(target)
    make(target / "drawing.png")  # type: ignore[operator]
    with pytest.raises(OutputError, match=r"a drawing\.png that is not of the earlier"), replaced_folder(target):
        raise AssertionError("nothing may be computed")
    assert (target / "drawing.png").exists()


def test_what_cannot_be_copied_comes_along(tmp_path: Path) -> None:
    target = tmp_path / "out"
    old_results(target)
    os.mkfifo(target / "pipe")
    (target / "link").symlink_to("nowhere")
    (target / "folder").mkdir()
    with replaced_folder(target) as temp:
        (temp / "prediction.json").write_text("{}", encoding="utf-8")
    assert {p.name for p in target.iterdir()} == {"prediction.json", "mine.txt", "pipe", "link", "folder"}
    assert list(tmp_path.iterdir()) == [target]


def test_every_name_that_is_written_is_known() -> None:
    for name in ("prediction.json", "strings.csv", "section.svg", "scene.png", "field.vtu"):
        assert PREDICTION.writes(name)
    for name in ("thesis.tex", "strings.csv~", "../strings.csv", "section.svgz", "x\nstrings.csv"):
        assert not PREDICTION.writes(name)


RUN = """
import os, sys, time
from pathlib import Path
from stringflux.cases.output import folder_swap
from stringflux.cases.output.folder import replaced_folder
target, number, stop = Path(sys.argv[1]), sys.argv[2], sys.argv[3:]
if stop:  # end between two steps, as a kill would
    folder_swap.exchanged = lambda a, b: False
    rename, left = Path.rename, [int(stop[0])]
    def rename_and_end(path, to):
        rename(path, to)
        left[0] -= 1
        if left[0] == 0:
            os._exit(9)
    Path.rename = rename_and_end
print("ready", flush=True)
while True:
    with replaced_folder(target) as temp:
        (temp / "strings.csv").write_text(number)
        (temp / "prediction.json").write_text('{"program": "stringflux", "files": ["strings.csv"], "n": %s}' % number)
    if stop:
        break
    number = str(int(number) + 1)
"""


def whole(target: Path) -> bool:
    """Whether a folder is one run's, complete, and has the person's file."""
    here = contents(target)
    document = json.loads(here.pop("prediction.json"))
    return here == {"mine.txt": "the person's own", "strings.csv": str(document["n"])}


def run_once(target: Path) -> None:
    with replaced_folder(target) as temp:
        (temp / "strings.csv").write_text("-1")
        (temp / "prediction.json").write_text('{"program": "stringflux", "files": ["strings.csv"], "n": -1}')


@pytest.mark.parametrize("after", [1, 2])
def test_a_run_killed_between_two_renames_is_completed(tmp_path: Path, after: int) -> None:
    target = tmp_path / "out"
    old_results(target)
    (target / "scene.png").unlink()
    done = subprocess.run([sys.executable, "-c", RUN, str(target), "5", str(after)], check=False)
    assert done.returncode == 9
    assert target.exists() == (after == 2)
    with pytest.raises(KeyboardInterrupt), replaced_folder(target):  # whoever comes next, even if he leaves again
        raise KeyboardInterrupt
    assert whole(target)
    assert '"n": 5' in (target / "prediction.json").read_text()
    assert list(tmp_path.iterdir()) == [target]


def test_an_old_folder_without_a_new_one_comes_back(tmp_path: Path) -> None:
    old_results(tmp_path / f".out.old-{16 * 'a'}")
    (tmp_path / f".out.lock-{16 * 'a'}").touch()
    with pytest.raises(KeyboardInterrupt), replaced_folder(tmp_path / "out"):
        raise KeyboardInterrupt
    assert "mine.txt" in contents(tmp_path / "out")
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_what_came_into_the_old_folder_is_saved(tmp_path: Path) -> None:
    """Put there by the person after everything had been copied, and then the run was killed."""
    target = tmp_path / "out"
    old_results(target)
    old_results(tmp_path / f".out.old-{16 * 'a'}")
    (tmp_path / f".out.old-{16 * 'a'}" / "late.txt").write_text("late")
    run_once(target)
    assert contents(target)["late.txt"] == "late"
    assert list(tmp_path.iterdir()) == [target]


def test_a_run_that_lives_is_let_alone_and_a_dead_one_cleared_up(tmp_path: Path) -> None:
    target = tmp_path / "out"
    with folder_swap.own_names(target, lambda old, new: None) as living:
        living.writing.mkdir()
        dead = folder_swap.Names(target=target, token=16 * "0")
        dead.writing.mkdir()  # a lock nobody holds, or none at all
        (tmp_path / ".out.writing-mine").mkdir()  # no name of ours
        with pytest.raises(KeyboardInterrupt), replaced_folder(target):
            raise KeyboardInterrupt
        assert {p.name for p in tmp_path.iterdir()} == {living.writing.name, living.lock.name, ".out.writing-mine"}


@pytest.mark.parametrize("exchange", [True, False])
def test_killed_at_any_moment(tmp_path: Path, exchange: bool) -> None:
    """Runs one after the other, each killed somewhere: the person's file and a whole result are always there."""
    target, code = tmp_path / "out", RUN
    if not exchange:
        code = RUN.replace('print("ready"', 'folder_swap.exchanged = lambda a, b: False\nprint("ready"')
    old_results(target)
    (target / "scene.png").unlink()
    (target / "strings.csv").write_text("0")
    (target / "prediction.json").write_text('{"program": "stringflux", "files": ["strings.csv"], "n": 0}')
    chance = random.Random(7)
    for turn in range(6):
        line = [sys.executable, "-c", code, str(target), str(1000 * turn)]
        process = subprocess.Popen(line, stdout=subprocess.PIPE)
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(chance.random() * 0.1)
        process.send_signal(signal.SIGKILL)
        process.communicate()
        if exchange:
            assert whole(target)  # at once: there is no moment without it
    run_once(target)
    assert whole(target)
    assert list(tmp_path.iterdir()) == [target]


def test_made_parents_go_again(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt), replaced_folder(tmp_path / "a" / "b" / "out"):
        raise KeyboardInterrupt
    assert list(tmp_path.iterdir()) == []


def test_places_that_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    for where, words in {
        "file": "is a file",
        "file/out": "is a file and can hold no folder",
        ".": "the folder you are in",
        "..": "the folder you are in",
        str(tmp_path): "the folder you are in",
        "n" * 300: "cannot be written",
        "a\0b": "no possible name",
    }.items():
        with pytest.raises(OutputError, match=words) as caught, replaced_folder(where):
            raise AssertionError("nothing may be computed")
        assert str(caught.value).startswith("--out: received ")
    (tmp_path / "theirs").mkdir()
    (tmp_path / "theirs" / "thesis.txt").write_text("x", encoding="utf-8")
    with pytest.raises(OutputError, match=r"holds files but no prediction\.json"), replaced_folder("theirs"):
        pass
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    with pytest.raises(OutputError, match="may not be written to"), replaced_folder("new"):
        pass
    monkeypatch.undo()
    assert {p.name for p in tmp_path.iterdir()} == {"file", "theirs"}
