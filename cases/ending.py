"""How processes end when they are told to: by Ctrl-C, SIGTERM, a closed terminal, or because their parent is gone.

The command `stringflux` has three times:

- :func:`at_once`: nothing is open yet. A signal ends the process there and then.
- :func:`orderly`: a signal is a KeyboardInterrupt where the program stands, so that what is open is closed on the way
  out; a study stops between two designs instead (:func:`stopping`). Further signals change nothing. Where Python
  swallows the interrupt, in a callback or a `__del__`, it comes again. A thread hears of the signal from the system,
  even while a library computes, and ends the process `GRACE` s later in any case.
- :func:`over`: the answer is there. A signal ends the process with the exit code it was about to have.

Exit codes are 128 + the signal's number. A program that uses the package as a library keeps its own signals.
"""

from __future__ import annotations

import atexit
import gc
import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from types import FrameType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from threading import Event

_AGAIN = 0.05  # s from an interrupt that was swallowed to the next one
GRACE = 1.5  # s between a signal and the end, for what is open to be closed
LONG = 20.0  # s of the same where a case is made and written on the way; the longest step in a library takes some 5
SIGNALS = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
_CURSOR = b"\x1b[?25h"  # shows it again
_DEATH = 1  # PR_SET_PDEATHSIG


class _Told:
    """What this process was told, and what it would leave behind."""

    number = 0
    raising = False
    swallowed = False
    written = False
    grace = GRACE
    left: dict[object, Callable[[], None]] = {}  # noqa: RUF012 - the process's own, there is one


def told() -> int:
    """The exit code of the signal that ends this process; 0 if there was none."""
    return 128 + _Told.number if _Told.number else 0


def said() -> str:
    """The last line of a process that was told to end."""
    return f"stringflux: stopped{'' if _Told.written else '; nothing was written'}\n"


def begun() -> None:
    """A command begins: nothing is written."""
    _Told.written = False


def placing() -> None:
    """A result is about to take its place: from now on it cannot be said that nothing was written."""
    _Told.written = True


def at_once() -> None:
    """Until :func:`orderly`: leave without a word from Python."""
    _listen(_leave)
    atexit.register(_listen, signal.SIG_IGN)  # the last thing done: then Python would set the system's way again


def orderly() -> None:
    """From now on close what is open before the end."""
    _Told.raising = True
    sys.unraisablehook = _swallowed
    _listen(_interrupt)
    if os.name == "posix":
        from threading import Thread

        heard, noted = os.pipe()
        os.set_blocking(noted, False)
        signal.set_wakeup_fd(noted, warn_on_full_buffer=False)
        Thread(target=_wait_and_end, args=(heard,), daemon=True).start()


def over(code: int) -> int:
    """The answer is there: `code` is the exit code, whatever comes now; does not return after a signal."""
    _Told.raising = False
    with suppress(OSError, ValueError, AttributeError):
        sys.stderr.flush()
    if _Told.number:
        _end(told())
    gc.freeze()  # or Python looks through all that was loaded before it goes: a quarter of a second
    _listen(lambda number, frame: os._exit(code))
    return code


@contextmanager
def left_behind(clear: Callable[[], None]) -> Iterator[None]:
    """Call `clear` at the end of the process if it comes within the block."""
    key = object()
    _Told.left[key] = clear
    try:
        yield
    finally:
        if not _Told.number:  # else it is not known how far the clearing in the block has come
            del _Told.left[key]


@contextmanager
def stopping() -> Iterator[Event]:
    """Give an event that a signal sets, so that nothing is cut in two.

    In a program that is not ours it is Ctrl-C alone, and a second one is the usual one again.
    """
    from threading import Event, current_thread, main_thread

    stop = Event()
    if current_thread() is not main_thread():
        yield stop  # signals are the main thread's
        return
    ours = SIGNALS if _Told.raising else (signal.SIGINT,)
    handlers = {int(number): signal.getsignal(number) for number in ours}
    handlers = {number: handler for number, handler in handlers.items() if handler != signal.SIG_IGN}

    def note(number: int, frame: FrameType | None) -> None:
        if _Told.raising:
            _Told.number = _Told.number or number
        else:
            signal.signal(number, handlers[number])
        stop.set()

    for number in handlers:
        signal.signal(number, note)
    try:
        yield stop
    finally:
        for number, handler in handlers.items():
            signal.signal(number, handler)


@contextmanager
def patient() -> Iterator[None]:
    """What is told to end within has `LONG` s to keep what it found, in place of `GRACE`."""
    _Told.grace = LONG
    try:
        yield
    finally:
        _Told.grace = GRACE


@contextmanager
def deaf() -> Iterator[None]:
    """A process started within never hears of Ctrl-C, not even before its first line: ending it is ours to do."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    from multiprocessing.resource_tracker import ensure_running

    ensure_running()  # or it would be started within, and let Ctrl-C in again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def end_with_parent() -> None:
    """In a process that was started by `multiprocessing`: end when its parent does, however that ended."""
    from multiprocessing import parent_process
    from threading import Thread

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # where it is not handed down
    parent = parent_process()
    if parent is None:
        return
    if sys.platform == "linux":  # by the system, for a library may hold everything up
        import ctypes

        ctypes.CDLL(None).prctl(_DEATH, int(signal.SIGKILL), 0, 0, 0)
        if os.getppid() != parent.pid:
            os._exit(1)  # it was gone before

    def wait() -> None:
        parent.join()
        os._exit(1)

    Thread(target=wait, daemon=True).start()


def _listen(handler: Callable[[int, FrameType | None], None] | signal.Handlers) -> None:
    for number in SIGNALS:
        if signal.getsignal(number) != signal.SIG_IGN:  # nohup, or a job in the background, means it
            signal.signal(number, handler)


def _leave(number: int, frame: FrameType | None) -> None:
    with suppress(OSError):
        os.write(2, said().encode())
    os._exit(128 + number)


def _interrupt(number: int, frame: FrameType | None) -> None:
    if _Told.number and not _Told.swallowed:
        return
    _Told.number = _Told.number or number
    _Told.swallowed = False
    if not _Told.raising:
        _end(told())
    raise KeyboardInterrupt


def _swallowed(lost: sys.UnraisableHookArgs) -> None:
    if _Told.number and _Told.raising and issubclass(lost.exc_type, KeyboardInterrupt):
        _Told.swallowed = True  # raised from here it would be swallowed too
    else:
        sys.__unraisablehook__(lost)


def _wait_and_end(heard: int) -> None:
    from _thread import interrupt_main
    from time import monotonic, sleep

    number = 0
    while number not in SIGNALS:
        number = os.read(heard, 1)[0]
    end = monotonic() + _Told.grace
    while monotonic() < end:
        sleep(_AGAIN)
        if _Told.swallowed:
            interrupt_main(signal.Signals(number))
    with suppress(OSError):
        os.write(2, said().encode())  # a library can have swallowed the interruption
    _end(128 + number)


def _end(code: int) -> None:
    """Leave nothing behind, and go."""
    if "multiprocessing" in sys.modules:
        import multiprocessing

        with suppress(OSError, RuntimeError, ValueError, AttributeError):
            for child in multiprocessing.active_children():
                child.kill()
    for clear in reversed(list(_Told.left.values())):
        with suppress(Exception):
            clear()
    with suppress(OSError):
        if os.isatty(2):
            os.write(2, _CURSOR)
    os._exit(code)
