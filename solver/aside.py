"""Work for another core: a copy of this process makes a thing while this one goes on, and hands it over.

The copy has all that this process has (a fork), so nothing is told to it but what to make; what both have is handed
back as this process's own. It is meant for a few things of tenths of a second or more that do not need each other.
The thing is the same to the last digit wherever it is made: here, when it is asked for, where there is no other core,
where this process has not said that it may be copied (others may have threads that a copy lacks), and where the copy
came to nothing. A copy that has to load much before it begins, and learns late what to make, is made `Ready` before.
"""

from __future__ import annotations

import gc
import io
import os
import pickle
import select
import signal
import sys
import warnings
import weakref
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Any, ClassVar, Generic, TypeVar

S = TypeVar("S")
T = TypeVar("T")

_DEATH = 1  # PR_SET_PDEATHSIG


class _Copies:
    """Whether this process may be copied; ids of the copies that were given work, and the file that hears of each."""

    allowed = False
    given: ClassVar[dict[int, int]] = {}

    @classmethod
    def at_work(cls) -> int:
        """How many of them go on: one that is done is heard, and so is the end of one."""
        if not cls.given:
            return 0
        heard = select.poll()
        for file in cls.given.values():
            heard.register(file, select.POLLIN)
        return len(cls.given) - len(heard.poll(0))


def allow(yes: bool = True) -> None:
    """This process is ours and may be copied: threads that it has only wait, or do nothing that a copy needs."""
    _Copies.allowed = yes and sys.platform == "linux" and len(os.sched_getaffinity(0)) > 1


def another_core() -> bool:
    """Whether a thread of this process may work beside it: it is ours, and no copy of it is at work."""
    return _Copies.allowed and not _Copies.at_work()


def aside(make: Callable[[], T], *shared: object, most: int = 1) -> Aside[T]:
    """Begin to make a thing on another core.

    Parameters
    ----------
    make : callable
        No argument; leaves nothing behind here but what it returns. It may not touch gmsh, which outlives no copy.
    *shared : objects
        That are there already; where they turn up in the thing they are these, and not copies.
    most : int
        Begin nothing while so many are at work.
    """
    return Aside(make, shared, _Copies.allowed and _Copies.at_work() < most)


class Aside(Generic[T]):
    """A thing that is being made: call it for the thing. Dropped without that, its copy is ended.

    Examples
    --------
    >>> aside(lambda: 6 * 7)()
    42
    """

    def __init__(self, make: Callable[[], T], shared: Sequence[object], elsewhere: bool) -> None:
        self._make, self._shared = make, shared
        self._found: list[T] = []
        self._child = self._heard = 0
        if elsewhere:
            self._begin()

    @property
    def begun(self) -> bool:
        """Whether it is being made elsewhere, or made."""
        return bool(self._child or self._found)

    def __call__(self) -> T:
        if self._child:
            self._wait()
        if not self._found:
            self._found.append(self._make())
        return self._found[0]

    def _begin(self) -> None:
        heard, told = os.pipe()
        parent = os.getpid()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)  # of threads: see `allow`
            try:
                child = os.fork()
            except OSError:  # no room for another process
                os.close(heard)
                os.close(told)
                return
        if child == 0:
            os.close(heard)
            self._work(told, parent)
        os.close(told)
        self._child, self._heard = child, heard
        self._dropped = weakref.finalize(self, _end, child, heard, parent)
        self._dropped.atexit = False  # copies end with this process
        _Copies.given[child] = heard

    def _work(self, told: int, parent: int) -> None:
        """The copy's life."""
        try:
            _alone(parent)
            data = io.BytesIO()
            _Writer(data, self._shared).dump(self._make())
            with os.fdopen(told, "wb") as pipe:
                pipe.write(data.getbuffer())
        except BaseException:  # whatever it is, this process meets it when it makes the thing itself
            os._exit(1)
        os._exit(0)

    def _wait(self) -> None:
        child, self._child = self._child, 0
        self._dropped.detach()
        _Copies.given.pop(child, None)
        with os.fdopen(self._heard, "rb") as pipe:
            data = pipe.read()
        _, status = os.waitpid(child, 0)
        if status == 0:
            self._found.append(_Reader(io.BytesIO(data), self._shared).load())


class Ready(Generic[S, T]):
    """A copy that makes ready and waits: call it with what it is to make the thing of; what comes is asked for then.

    While it waits it is not counted among the copies at work.

    Parameters
    ----------
    prepare : callable
        No argument; what the copy does first, such as loading libraries.
    make : callable
        From what is given to the thing; as of :func:`aside`.

    Examples
    --------
    >>> Ready(lambda: None, lambda given: 6 * given)(7)()
    42
    """

    def __init__(self, prepare: Callable[[], None], make: Callable[[S], T]) -> None:
        self._make = make
        self._copy: Aside[T] | None = None
        self._tell = self._matter = -1
        if _Copies.allowed:
            self._begin(prepare)

    def __call__(self, given: S) -> Aside[T]:
        """Hand over what the thing is made of, once."""
        def here() -> T:
            return self._make(given)

        copy, self._copy = self._copy, None
        if copy is None:
            return Aside(here, (), elsewhere=False)
        copy._make = here
        _Copies.given[copy._child] = copy._heard
        self._closed.detach()
        with suppress(OSError), os.fdopen(self._tell, "wb") as pipe:  # of a copy that is gone: made here
            with os.fdopen(self._matter, "wb") as matter:
                pickle.dump(given, matter, protocol=5)
            pipe.write(b"!")
        return copy

    def _begin(self, prepare: Callable[[], None]) -> None:
        asked, tell = os.pipe()
        try:
            matter = os.memfd_create("given")  # a pipe holds little, and who gives shall not wait until all is ready
        except OSError:
            _close(asked, tell)
            return

        def there() -> T:
            os.close(tell)
            prepare()
            with os.fdopen(asked, "rb") as pipe, os.fdopen(matter, "rb") as content:
                if not pipe.read(1):
                    raise EOFError
                content.seek(0)
                return self._make(pickle.load(content))

        copy = Aside(there, (), elsewhere=True)
        os.close(asked)
        if not copy.begun:
            _close(tell, matter)
            return
        self._copy, self._tell, self._matter = copy, tell, matter
        self._closed = weakref.finalize(self, _close, tell, matter)
        self._closed.atexit = False  # files close with this process
        _Copies.given.pop(copy._child, None)


def _close(*files: int) -> None:
    for file in files:
        os.close(file)


def _end(child: int, heard: int, parent: int) -> None:
    """End a copy that nobody asks any more; one that inherited it leaves it alone."""
    if os.getpid() != parent:
        return
    _Copies.given.pop(child, None)
    os.close(heard)
    with suppress(ProcessLookupError):
        os.kill(child, signal.SIGKILL)
    with suppress(ChildProcessError):
        os.waitpid(child, 0)


def _alone(parent: int) -> None:
    """In a copy: signals as the system has them, an end with the parent, no copies of its own."""
    import ctypes

    signal.set_wakeup_fd(-1)
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.SIG_DFL)
    ctypes.CDLL(None).prctl(_DEATH, int(signal.SIGKILL), 0, 0, 0)
    if os.getppid() != parent:
        os._exit(1)
    _Copies.allowed = False
    gc.disable()  # it would write to memory that is the parent's as well


class _Writer(pickle.Pickler):
    """Writes numbers in place of the objects that both processes have."""

    def __init__(self, data: io.BytesIO, shared: Sequence[object]) -> None:
        super().__init__(data, protocol=5)
        self._numbers = {id(one): number for number, one in enumerate(shared)}

    def persistent_id(self, obj: Any) -> int | None:
        return self._numbers.get(id(obj))


class _Reader(pickle.Unpickler):
    def __init__(self, data: io.BytesIO, shared: Sequence[object]) -> None:
        super().__init__(data)
        self._shared = shared

    def persistent_load(self, pid: int) -> object:
        return self._shared[pid]
