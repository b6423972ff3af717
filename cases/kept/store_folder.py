"""A store's own folder: known by a marker, its files by their names, kept within bounds, and nothing else touched.

Below the folder that a person names lies one of ours. It is ours when its ``CACHEDIR.TAG`` says so (backup programs
leave out folders with such a file, bford.info/cachedir). Results lie in ``ab/abcdef…``: forty hexadecimal digits, in
a folder of the first two. Whatever is called otherwise is nobody's business here, and links are not followed.
"""

from __future__ import annotations

import os
import re
import secrets
import stat
import time
from collections.abc import Iterator
from pathlib import Path

from filelock import FileLock, Timeout

OWN = "stringflux-stages"
"""What the store's folder is called in the one that is named."""
LOCKS, TAG = "locks", "CACHEDIR.TAG"
_MARKER = (b"Signature: 8a477f597d28d172789f06e5d2bd9d9d\n"
           b"# stringflux keeps results of stages here. The whole folder may be deleted at any time.\n")
_FULL = 0.9  # share of the largest size that is left after files went
_ABANDONED = 3600.0  # s after which a file half written, or a lock that nobody used, is nobody's
_SUB, _RESULT = re.compile("[0-9a-f]{2}"), re.compile("[0-9a-f]{40}")
_PART = re.compile(r"[0-9a-f]{40}\.[0-9a-f]{16}\.part")


def claim(folder: Path) -> None:
    """Make the folder, or see that it is ours.

    Raises
    ------
    OSError
        When it cannot be made, is a link, holds something else, or others may write into it.
    """
    folder.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    folder.mkdir(mode=0o700, exist_ok=True)
    state = folder.lstat()
    if not stat.S_ISDIR(state.st_mode):
        raise PermissionError(0, "it is a link")
    if hasattr(os, "getuid") and (state.st_uid != os.getuid() or state.st_mode & 0o022):
        raise PermissionError(0, "others may write into it")
    said = read_regular(folder / TAG)
    if said != _MARKER:
        # nothing of ours lies there before the marker does; half of one is that of a process just beginning
        others = next((p.name for p in folder.iterdir() if p.name != TAG), None)
        if others is not None or not _MARKER.startswith(said or b""):
            raise PermissionError(0, f"it holds other things and no {TAG} of stringflux")
        (folder / TAG).write_bytes(_MARKER)
    (folder / LOCKS).mkdir(mode=0o700, exist_ok=True)


def place_of(folder: Path, name: str) -> Path:
    """Where the result of that name lies."""
    return folder / name[:2] / name


def read_regular(path: Path) -> bytes | None:
    """What a plain file holds; None if there is none, or it is a link, a pipe or whatever else."""
    quick = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
    try:
        file = os.open(path, os.O_RDONLY | quick)
    except OSError:
        return None
    try:
        state = os.fstat(file)
        if not stat.S_ISREG(state.st_mode):
            return None
        raw, have = bytearray(state.st_size), 0
        while have < len(raw) and (more := os.read(file, len(raw) - have)):
            raw[have:have + len(more)] = more
            have += len(more)
        return bytes(raw[:have])
    except OSError:
        return None
    finally:
        os.close(file)


def write_beside(path: Path, *parts: bytes) -> None:
    """Write a result so that it is there whole or not at all.

    Raises
    ------
    OSError
    """
    path.parent.mkdir(mode=0o700, exist_ok=True)
    beside = path.with_name(f"{path.name}.{secrets.token_hex(8)}.part")
    try:
        with open(beside, "xb") as file:
            file.writelines(parts)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


def trim(folder: Path, largest: int) -> None:
    """Delete the longest unused results until the folder holds nine tenths of `largest` bytes, if it held more.

    One process at a time; another that comes meanwhile leaves it to the first.
    """
    try:
        with FileLock(folder / LOCKS / "trim", timeout=0):
            _trim(folder, largest)
    except Timeout:
        pass


def _trim(folder: Path, largest: int) -> None:
    now, total = time.time(), 0
    files = []
    for entry, state in _plain_files(folder / LOCKS):
        if _RESULT.fullmatch(entry.name) and now - state.st_mtime > _ABANDONED:
            Path(entry.path).unlink(missing_ok=True)
    subs = [e for e in os.scandir(folder) if _SUB.fullmatch(e.name) and e.is_dir(follow_symlinks=False)]
    for sub in subs:
        for entry, state in _plain_files(Path(sub.path)):
            if not entry.name.startswith(sub.name):
                continue
            if _PART.fullmatch(entry.name):
                if now - state.st_mtime > _ABANDONED:
                    Path(entry.path).unlink(missing_ok=True)
            elif _RESULT.fullmatch(entry.name):
                size = max(state.st_size, 4096)  # a small file takes a block
                total += size
                files.append((state.st_mtime, size, entry.path))
    if total <= largest:
        return
    for _, size, path in sorted(files):
        Path(path).unlink(missing_ok=True)
        total -= size
        if total <= _FULL * largest:
            return


def _plain_files(folder: Path) -> Iterator[tuple[os.DirEntry[str], os.stat_result]]:
    """Files of a folder that are no links, with their states."""
    for entry in os.scandir(folder):
        try:
            state = entry.stat(follow_symlinks=False)
        except FileNotFoundError:
            continue  # another process deleted it
        if stat.S_ISREG(state.st_mode):
            yield entry, state
