"""A results folder that is either the old one or the new one, never half of each.

The new folder grows beside the old one under a hidden name and takes its place by renaming. What is left
of an earlier run that was killed is put right at the next one.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from stringflux.geometry.errors import OutputError
from stringflux.geometry.units import shown

MARK = "prediction.json"
"""The file by which a folder of ours is known; its key "files" lists the others."""


@contextmanager
def replaced_folder(where: str | os.PathLike[str], mark: str = MARK) -> Iterator[Path]:
    """Give an empty folder to write into; it takes the place of `where` if all goes well.

    `mark` is the file by which a folder of the same command is known.

    What the person put into `where` beside our files is carried over. After any exception, Ctrl-C too,
    `where` is as it was.

    Raises
    ------
    OutputError
        If `where` cannot become a results folder; at once, before anything is computed.
    """
    target, made = _usable(where, mark), list[Path]()
    # the number of the process tells a run that is still going on from one that was killed
    temp = target.with_name(f".{target.name}.writing-{os.getpid()}")
    old = target.with_name(f".{target.name}.old-{os.getpid()}")
    try:
        try:
            _make_parents(target.parent, made)
            _clear_leftovers(target)
            temp.mkdir()
        except OSError as error:
            raise _refusal(where, error) from None
        yield temp
        try:
            _carry_over(target, temp, mark)
            _swap(target, temp, old)
        except OSError as error:
            raise _refusal(where, error) from None
    finally:
        shutil.rmtree(temp, ignore_errors=True)
        if target.exists():
            shutil.rmtree(old, ignore_errors=True)
        for folder in reversed(made):
            if folder.is_dir() and not any(folder.iterdir()):
                folder.rmdir()


def _refusal(where: str | os.PathLike[str], error: OSError) -> OutputError:
    return OutputError(
        f"--out: received {shown(os.fspath(where))}, which cannot be written "
        f"({error.strerror or error}); name a folder in a place you may write to"
    )


def _usable(where: str | os.PathLike[str], mark: str) -> Path:
    """The folder's full path, if it can be replaced."""
    said = f"--out: received {shown(os.fspath(where))}"
    try:
        target = Path(where).resolve()
        if target.exists() and not target.is_dir():
            raise OutputError(f"{said}, which is a file; name a folder")
        if Path.cwd().is_relative_to(target):
            raise OutputError(f"{said}, the folder you are in; name one inside it, it will be made")
        if target.is_mount():
            raise OutputError(f"{said}, where a disk is mounted; name a folder inside it")
        place = target.parent
        while not place.exists():
            place = place.parent
        if not place.is_dir():
            raise OutputError(f"{said}, but {shown(str(place))} is a file and can hold no folder")
        if not os.access(place, os.W_OK | os.X_OK):
            raise OutputError(
                f"{said}, but {shown(str(place))} may not be written to; name a folder where you may"
            )
        if target.is_dir() and any(target.iterdir()) and not (target / mark).is_file():
            raise OutputError(
                f"{said}, which holds files but no {mark}, so it is no earlier result; "
                "name another folder, or an empty one"
            )
    except OSError as error:
        raise _refusal(where, error) from None
    except (ValueError, RuntimeError):  # a NUL in the name, links that go in circles
        raise OutputError(f"{said}, which is no possible name; name a folder") from None
    return target


def _make_parents(folder: Path, made: list[Path]) -> None:
    """Make a folder and those above it, noting in `made` which are new, outermost first."""
    if not folder.exists():
        _make_parents(folder.parent, made)
        folder.mkdir()
        made.append(folder)


def _clear_leftovers(target: Path) -> None:
    """Put right what a killed run left beside `target`."""
    for kind in ("old", "writing"):
        start = f".{target.name}.{kind}-"
        for path in [p for p in target.parent.iterdir() if p.name.startswith(start)]:
            if _runs(path.name.removeprefix(start)):
                continue
            if kind == "old" and not target.exists():
                path.rename(target)  # killed between the two renames of the swap
            else:
                shutil.rmtree(path, ignore_errors=True)


def _runs(number: str) -> bool:
    """Whether another process of that number is at work."""
    if not (number.isascii() and number.isdigit()) or int(number) in (0, os.getpid()):
        return False
    try:
        os.kill(int(number), 0)
    except PermissionError:
        return True
    except (OSError, OverflowError):
        return False
    return True


def _carry_over(target: Path, temp: Path, mark: str) -> None:
    """Copy what the person added to the earlier results."""
    if not target.is_dir():
        return
    try:
        ours = {mark, *json.loads((target / mark).read_text(encoding="utf-8"))["files"]}
    except (OSError, ValueError, LookupError, TypeError):
        ours = {mark}  # rather keep an old file of ours than lose one of theirs
    for path in target.iterdir():
        if path.name in ours or (temp / path.name).exists():
            continue
        if path.is_dir() and not path.is_symlink():
            shutil.copytree(path, temp / path.name, symlinks=True)
        else:
            shutil.copy2(path, temp / path.name, follow_symlinks=False)


def _swap(target: Path, temp: Path, old: Path) -> None:
    try:
        if target.exists():
            target.rename(old)
        temp.rename(target)
    except BaseException:
        if old.exists() and not target.exists():
            old.rename(target)
        raise
