"""Keeping a store's folder within its bounds."""

from __future__ import annotations

import os
import time
from pathlib import Path

from filelock import FileLock, Timeout

_FULL = 0.9  # share of the largest size that is left after files went
_ABANDONED = 3600.0  # s after which a file half written, or a lock that nobody used, is nobody's


def trim(folder: Path, largest: int) -> None:
    """Delete the longest unused files until the folder holds nine tenths of `largest` bytes, if it held more.

    One process at a time; another that comes meanwhile leaves it to the first.
    """
    try:
        with FileLock(folder / "locks" / "trim", timeout=0):
            _trim(folder, largest)
    except Timeout:
        pass


def _trim(folder: Path, largest: int) -> None:
    now, total = time.time(), 0
    files = []
    for entry in (e for sub in folder.iterdir() if sub.is_dir() for e in os.scandir(sub)):
        try:
            state = entry.stat()
        except FileNotFoundError:
            continue  # another process deleted it
        if Path(entry.path).parent.name == "locks" or entry.name.endswith(".part"):
            if now - state.st_mtime > _ABANDONED and entry.name != "trim":
                Path(entry.path).unlink(missing_ok=True)
            continue
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
