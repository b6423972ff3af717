"""One gmsh session at a time, always closed, and a sentence instead of a loader error.

gmsh is not thread-safe and swallows Ctrl-C when left at its defaults, hence the arguments below. Whatever the process
does with other signals (SIGTERM, SIGHUP, SIGPIPE) it sets back to the system's way when it begins.
"""

from __future__ import annotations

import ctypes
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from ..errors import MissingLibraryError

APT_LINE = (
    "sudo apt-get install -y libgl1 libglu1-mesa libxrender1 libxcursor1 libxft2 libxinerama1 libgomp1"
)
_ACTION = 512  # bytes, more than any system's struct sigaction has
_lock = threading.Lock()


@contextmanager
def gmsh_model(name: str) -> Iterator[Any]:
    """Yield the gmsh module with an empty model in it; finalise whatever happens.

    Raises
    ------
    MissingLibraryError
        When gmsh's shared library cannot be loaded; the message holds the line that installs it.
    """
    try:
        import gmsh
    except OSError as error:
        raise MissingLibraryError(
            f"gmsh cannot load a library of this machine ({error}); on Debian or Ubuntu run: {APT_LINE}"
        ) from error
    with _lock:
        with _signals_kept():
            gmsh.initialize([], readConfigFiles=False, interruptible=False)
        try:
            gmsh.option.setNumber("General.Verbosity", 0)
            gmsh.model.add(name)
            yield gmsh
        finally:
            gmsh.finalize()


@contextmanager
def _signals_kept() -> Iterator[None]:
    """What the process does with signals is the same after the block, which answers those that came within."""
    if threading.current_thread() is not threading.main_thread():
        with _actions_kept():
            yield
        return
    before = {number: signal.getsignal(number) for number in signal.valid_signals()}
    changed = {number: done for number, done in before.items() if done not in (None, signal.SIG_DFL)}
    mask = signal.pthread_sigmask(signal.SIG_BLOCK, changed) if hasattr(signal, "pthread_sigmask") else None
    try:
        yield
    finally:
        for number, done in changed.items():
            signal.signal(number, done)
        if mask is not None:
            signal.pthread_sigmask(signal.SIG_SETMASK, mask)


@contextmanager
def _actions_kept() -> Iterator[None]:
    """The same in another thread than the first, where Python lets none change them: the system is asked itself. A
    socket that closes would end the process else, by SIGPIPE."""
    system = ctypes.CDLL(None) if hasattr(signal, "pthread_sigmask") else None
    kept = {}
    for number in signal.valid_signals() if system is not None else ():
        action = ctypes.create_string_buffer(_ACTION)
        if system is not None and system.sigaction(int(number), None, action) == 0:
            kept[int(number)] = action
    try:
        yield
    finally:
        for which, action in kept.items():
            if system is not None:
                system.sigaction(which, action, None)
