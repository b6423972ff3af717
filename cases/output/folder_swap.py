"""One folder in the place of another: in one step where the system can, else in two that anybody completes.

A run's names beside its target T are ``.T.writing-TOKEN`` (what it makes), ``.T.old-TOKEN`` (what it replaced, until
that is deleted) and ``.T.lock-TOKEN``, a lock that it holds as long as it lives; the token is drawn by lot. Whoever
gets that lock knows that the run is dead and completes it: the old folder is put aside only when the new one is
complete, so if T is missing the new one takes its place, or the old one if there is no new one.
"""

from __future__ import annotations

import ctypes
import errno
import os
import re
import secrets
import shutil
import stat
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from ..ending import left_behind, placing

_HERE = -100  # AT_FDCWD
_EXCHANGE = 2  # RENAME_EXCHANGE of Linux, and RENAME_SWAP of macOS
_TRIES = 20  # a lock of a new name is only missed where somebody looks at that very moment
_CANNOT = {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP}

Sweep = Callable[[Path, Path], None]
"""Saves from a replaced folder, the first, what has to be in the new one, the second."""


@dataclass(frozen=True, kw_only=True)
class Names:
    """A run's names beside its target."""

    target: Path
    token: str

    @property
    def writing(self) -> Path:
        return self._beside("writing")

    @property
    def old(self) -> Path:
        return self._beside("old")

    @property
    def lock(self) -> Path:
        return self._beside("lock")

    def _beside(self, kind: str) -> Path:
        return self.target.with_name(f".{self.target.name}.{kind}-{self.token}")


@contextmanager
def own_names(target: Path, sweep: Sweep) -> Iterator[Names]:
    """Names that nobody else has, locked while the block runs; nothing is left under them at its end.

    Raises
    ------
    OSError
        If there can be no such files.
    """
    for _ in range(_TRIES):
        names = Names(target=target, token=secrets.token_hex(8))
        with left_behind(partial(complete, names, sweep)):
            lock = _locked(names)
            if lock is None:
                continue
            try:
                yield names
            finally:
                complete(names, sweep)
                lock.release()
                names.lock.unlink(missing_ok=True)
            return
    raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))


def swap(names: Names, sweep: Sweep) -> None:
    """Put the complete folder `names.writing` in the target's place, and delete what was there.

    Raises
    ------
    OSError
        Then the target is as it was.
    """
    target, writing, old = names.target, names.writing, names.old
    placing()
    if not os.path.lexists(target):
        writing.rename(target)
        return
    if exchanged(writing, target):
        writing.rename(old)
    else:
        target.rename(old)
        try:
            writing.rename(target)
        except BaseException:
            if not target.exists():
                old.rename(target)
            raise
    _discard(old, target, sweep)


def settle(target: Path, sweep: Sweep) -> None:
    """Complete what runs that are dead have left beside a target; those that live are let alone.

    Raises
    ------
    OSError
    """
    pattern = re.compile(re.escape(f".{target.name}.") + r"(?:writing|old|lock)-([0-9a-f]{16})")
    found = [pattern.fullmatch(entry.name) for entry in os.scandir(target.parent)]
    for token in sorted({match[1] for match in found if match}):
        names = Names(target=target, token=token)
        lock = _locked(names)
        if lock is None:
            continue
        try:
            complete(names, sweep)
        finally:
            lock.release()
            names.lock.unlink(missing_ok=True)


def complete(names: Names, sweep: Sweep) -> None:
    """Leave the target and nothing beside it, wherever between two steps its run has ended."""
    if _ours(names.old):
        if not os.path.lexists(names.target):
            (names.writing if _ours(names.writing) else names.old).rename(names.target)
        if _ours(names.old):
            _discard(names.old, names.target, sweep)
    if _ours(names.writing):
        shutil.rmtree(names.writing, ignore_errors=True)
    if os.name != "nt":  # there it must be let go of before
        names.lock.unlink(missing_ok=True)


def exchanged(a: Path, b: Path) -> bool:
    """Exchange two folders in one step; False where the system cannot.

    Raises
    ------
    OSError
    """
    libc: Any = None if os.name == "nt" else ctypes.CDLL(None, use_errno=True)
    first, second = os.fsencode(a), os.fsencode(b)
    if hasattr(libc, "renameat2"):
        failed = libc.renameat2(_HERE, first, _HERE, second, ctypes.c_uint(_EXCHANGE))
    elif sys.platform == "darwin" and hasattr(libc, "renamex_np"):
        failed = libc.renamex_np(first, second, ctypes.c_uint(_EXCHANGE))
    else:
        return False
    number = ctypes.get_errno()
    if failed and number not in _CANNOT:
        raise OSError(number, os.strerror(number))
    return not failed


def _discard(old: Path, target: Path, sweep: Sweep) -> None:
    sweep(old, target)
    shutil.rmtree(old, ignore_errors=True)


def _locked(names: Names) -> FileLock | None:
    """The lock of a run, or None if another holds it, or has just let go of it and deleted it, or if there are no
    locks on this file system: then :func:`own_names` says so."""
    lock = FileLock(names.lock, timeout=0, thread_local=False)
    try:
        lock.acquire()
    except (Timeout, NotImplementedError):
        return None
    if names.lock.exists():
        return lock
    lock.release()
    return None


def _ours(path: Path) -> bool:
    """Whether that is a folder, no link, of this user."""
    try:
        state = path.lstat()
    except OSError:
        return False
    return stat.S_ISDIR(state.st_mode) and (not hasattr(os, "getuid") or state.st_uid == os.getuid())
