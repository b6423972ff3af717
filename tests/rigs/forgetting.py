"""What functions of a test module keep ends with it, not with the process, which runs hundreds of modules."""

from __future__ import annotations

import ctypes
import gc
import os
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from types import ModuleType

LARGE = 1.0e9  # bytes that a process grows by before it tidies up: to look through all objects takes 0.3 s
_left = [0.0]  # bytes that the last time left


def forget(module: ModuleType, shared: Callable[[], None] = lambda: None) -> None:
    """Empty the caches of a module's own functions; where the process has grown much, what modules share too, and
    give the memory back."""
    for kept in vars(module).values():
        if hasattr(kept, "cache_clear") and getattr(kept, "__module__", "") == module.__name__:
            kept.cache_clear()
    if resident() > _left[0] + LARGE:
        shared()
        gc.collect()  # solutions know those that know them
        with suppress(OSError, AttributeError):  # of another C library than glibc, which keeps what it can
            ctypes.CDLL(None).malloc_trim(0)
        _left[0] = resident()


def resident() -> float:
    """Bytes of memory that this process holds; 0 where the system does not tell."""
    try:
        return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE")
    except OSError:
        return 0.0
