"""A results folder that is either the old one or the new one, never half of each.

The new folder grows beside the old one under a hidden name and takes its place in one step (`folder_swap`). What is
left of an earlier run that was killed is put right at the next one.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import stat
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from stringflux.geometry.errors import OutputError
from stringflux.geometry.units import shown

from ..ending import left_behind
from ..files.whole import refuse_unwritable
from .folder_swap import own_names, settle, swap


@dataclass(frozen=True)
class FolderKind:
    """The results of one command.

    Attributes
    ----------
    mark : str
        The document by which a folder of that command is known; its key "files" lists the others.
    names : str
        All names of files that the command writes, as a regular expression: no other file is ever deleted.
    """

    mark: str
    names: str

    def writes(self, name: str) -> bool:
        """Whether the command writes files of that name."""
        return name == self.mark or re.fullmatch(self.names, name) is not None


MARK = "prediction.json"
PREDICTION = FolderKind(MARK, r"(strings|screws)\.csv|field\.vtu|mesh\.msh|scene\.png|"
                              r"(drawing|section|slice|fields|linkage|balance)\.(png|svg)")


@contextmanager
def replaced_folder(where: str | os.PathLike[str], kind: FolderKind = PREDICTION) -> Iterator[Path]:
    """Give an empty folder to write into; it takes the place of `where` if all goes well.

    What the person put into `where` beside our files is carried over. After any exception, Ctrl-C too,
    `where` is as it was.

    Raises
    ------
    OutputError
        If `where` cannot become a results folder; at once, before anything is computed.
    """
    target, made = _possible(where), list[Path]()

    def sweep(old: Path, new: Path) -> None:
        for path in _theirs(old, kind):
            if not os.path.lexists(new / path.name):
                path.rename(new / path.name)

    with ExitStack() as end:
        end.enter_context(left_behind(partial(_unmake, made)))
        end.callback(_unmake, made)
        try:
            _make_parents(target.parent, made)
            settle(target, sweep)
            _refuse_foreign(where, target, kind)
            names = end.enter_context(own_names(target, sweep))
            names.writing.mkdir()
        except OSError as error:
            raise _refusal(where, error) from None
        yield names.writing
        try:
            if target.is_dir():
                _carry_over(target, names.writing, kind)
            swap(names, sweep)
        except OSError as error:
            raise _refusal(where, error) from None


def _refusal(where: str | os.PathLike[str], error: OSError) -> OutputError:
    return OutputError(
        f"--out: received {shown(os.fspath(where))}, which cannot be written "
        f"({error.strerror or error}); name a folder in a place you may write to"
    )


def _possible(where: str | os.PathLike[str]) -> Path:
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
        refuse_unwritable(target.parent, said)
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


def _unmake(made: list[Path]) -> None:
    """Take away what `_make_parents` has made, if nothing came into it."""
    for folder in reversed(made):
        if folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()


def _refuse_foreign(where: str | os.PathLike[str], target: Path, kind: FolderKind) -> None:
    """Refuse a folder that is no earlier result of the command, or in which something would be lost."""
    said = f"--out: received {shown(os.fspath(where))}"
    if not target.is_dir() or not any(target.iterdir()):
        return
    if not (target / kind.mark).is_file():
        raise OutputError(f"{said}, which holds files but no {kind.mark}, so it is no earlier result; "
                          "name another folder, or an empty one")
    ours = _ours(target, kind)
    if ours is None:
        raise OutputError(f"{said}, whose {kind.mark} is not by stringflux, or damaged, so it is no earlier result; "
                          "name another folder, or an empty one")
    for path in target.iterdir():
        if kind.writes(path.name) and (path.name not in ours or (path.is_dir() and not path.is_symlink())):
            raise OutputError(f"{said}, which holds a {path.name} that is not of the earlier result and would be "
                              "replaced; move it, or name another folder")


def _ours(folder: Path, kind: FolderKind) -> frozenset[str] | None:
    """Names of the files that the command has written there; None if it has not."""
    try:
        found = json.loads((folder / kind.mark).read_text(encoding="utf-8"))
        if found["program"] != "stringflux":
            return None
        return frozenset({kind.mark, *(name for name in map(str, found["files"]) if kind.writes(name))})
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return None


def _theirs(folder: Path, kind: FolderKind) -> list[Path]:
    """What the person has put into a folder of results."""
    ours = _ours(folder, kind) or {kind.mark}  # rather keep an old file of ours than lose one of theirs
    return [path for path in folder.iterdir() if path.name not in ours]


def _carry_over(target: Path, new: Path, kind: FolderKind) -> None:
    """Copy what the person added to the earlier results. What cannot be copied, a pipe, is moved after the swap."""
    for path in _theirs(target, kind):
        to, mode = new / path.name, path.lstat().st_mode
        if os.path.lexists(to):
            continue
        if stat.S_ISDIR(mode):
            shutil.copytree(path, to, symlinks=True)
        elif stat.S_ISREG(mode) or stat.S_ISLNK(mode):
            shutil.copy2(path, to, follow_symlinks=False)
