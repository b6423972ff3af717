"""The folder of a study: which study it is, and that only one process is at work in it.

``study.json`` says what was asked and by which program, ``results.jsonl`` is the log of finished designs. A folder
of something else is refused, and so is one of another study.
"""

from __future__ import annotations

import functools
import hashlib
import json
import re
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any

from filelock import BaseFileLock, FileLock, Timeout

from stringflux.geometry.errors import OutputError
from stringflux.geometry.units import shown

from ...files.whole import refuse_unwritable, write_whole
from ...kept.code_version import code_version
from .results_log import ResultsLog
from .task import Outcome, Task

STUDY, RESULTS, LOCK = "study.json", "results.jsonl", ".lock"


@dataclass(frozen=True, kw_only=True)
class Identity:
    """What tells one study from another.

    `key` stands for designs, kind and function, `code` for the program; `numbers` are the designs' in order.
    """

    key: str
    kind: str
    code: str
    numbers: tuple[int, ...]
    about: Mapping[str, Any]


def identity(
    tasks: Sequence[Task], *, evaluate: Callable[[Task], Outcome], kind: str, about: Mapping[str, Any] | None
) -> Identity:
    """Which study this is."""
    total = hashlib.sha256(json.dumps([kind, _name(evaluate)]).encode())
    numbers: list[int] = []
    for task in tasks:
        numbers.append(task.number)
        asked = [task.number, task.document, task.quality, list(task.want), *([task.sought] if task.sought else [])]
        total.update(json.dumps(asked, sort_keys=True, default=str).encode() + b"\n")
    if len(set(numbers)) != len(numbers):
        raise ValueError("two tasks have the same number")
    key = total.hexdigest()[:32]
    return Identity(key=key, kind=kind, code=code_version(), numbers=tuple(numbers), about=about or {})


def _name(function: Any) -> str:
    while isinstance(function, functools.partial):
        function = function.func  # its arguments say where things are kept, not what they are
    kind = function if hasattr(function, "__qualname__") else type(function)
    return f"{kind.__module__}.{kind.__qualname__}"


def check_folder(folder: Path, asked: Identity, *, resume: bool) -> None:
    """Refuse a folder that cannot keep this study; nothing is written.

    Raises
    ------
    OutputError
    """
    text = check_place(folder)
    if text is not None:
        _compare(text, asked, _said(folder), resume=resume)


def check_place(folder: Path) -> str | None:
    """Refuse a folder that can keep no study, whichever it is; nothing is written.

    Returns
    -------
    str or None
        What it says of the study that it holds.

    Raises
    ------
    OutputError
    """
    said = _said(folder)
    try:
        if folder.exists() and not folder.is_dir():
            raise OutputError(f"{said}, which is a file; name a folder")
        refuse_unwritable(folder, said)
        names = [path.name for path in folder.iterdir()] if folder.exists() else []
        if STUDY in names:
            return (folder / STUDY).read_text(encoding="utf-8")
    except OSError as error:
        raise OutputError(f"{said}, which cannot be read ({error.strerror}); name another folder") from None
    except ValueError:
        raise OutputError(f"{said}, whose name or {STUDY} is no text; name another folder") from None
    if any(not _passing(name) for name in names):
        raise OutputError(f"{said}, which holds files but no {STUDY}, so it is no study; name another folder")
    return None


def _said(folder: Path) -> str:
    return f"--out: received {shown(str(folder))}"


def _passing(name: str) -> bool:
    """Whether a file is one that a study killed at its very beginning may leave."""
    return name == LOCK or re.fullmatch(r"\..+\.writing-\d+(\.\w+)?", name) is not None


def _compare(text: str, asked: Identity, said: str, *, resume: bool) -> None:
    try:
        found = json.loads(text)
        kind, key, code = (str(found[name]) for name in ("kind", "key", "code"))
    except (ValueError, LookupError, TypeError):
        raise OutputError(f"{said}, whose {STUDY} is damaged; name another folder") from None
    if key != asked.key:
        other = f"a {kind} study" if kind != asked.kind else "a study of other designs"
        raise OutputError(f"{said}, which holds {other}; name another folder")
    if not resume:
        raise OutputError(f"{said}, which holds this very study; add --resume to go on, or name another folder")
    if code != asked.code:
        raise OutputError(
            f"{said}, whose results another version of the program made ({code}; this is {asked.code}), so new ones "
            "would not fit to them; name another folder"
        )


class StudyFolder:
    """A study's folder, locked while an engine works in it, as a context manager that gives the log."""

    def __init__(self, folder: Path, asked: Identity, *, resume: bool) -> None:
        self._folder, self._asked, self._resume = Path(folder), asked, resume
        self._open = ExitStack()

    def __enter__(self) -> ResultsLog:
        with ExitStack() as opened:
            check_folder(self._folder, self._asked, resume=self._resume)  # before a lock is left in a foreign folder
            opened.callback(self._locked().release)
            check_folder(self._folder, self._asked, resume=self._resume)  # it may have come in between
            log = opened.enter_context(self._begun())
            self._open = opened.pop_all()
        return log

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._open.__exit__(kind, error, trace)

    def _locked(self) -> BaseFileLock:
        said = _said(self._folder)
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            lock = FileLock(self._folder / LOCK)
            lock.acquire(timeout=0)
        except Timeout:
            raise OutputError(
                f"{said}, where another process is computing right now; wait for it, or name another folder"
            ) from None
        except OSError as error:
            raise OutputError(
                f"{said}, which cannot be written ({error.strerror or error}); name a folder where you may write"
            ) from None
        return lock

    def _begun(self) -> ResultsLog:
        for left in self._folder.glob(".*.writing-*"):
            left.unlink(missing_ok=True)  # of a process that was killed: the lock is ours
        a = self._asked
        if not (self._folder / STUDY).exists():
            study = {"kind": a.kind, "designs": len(a.numbers), "key": a.key, "code": a.code, "about": a.about}
            write_whole(self._folder / STUDY, json.dumps(study, indent=2, default=str).encode() + b"\n")
        return ResultsLog(self._folder / RESULTS, a.key, frozenset(a.numbers))
