"""Where results of stages are kept: in memory, and behind that in a folder that processes share.

A result lies in a file named by the digest of its stage, its key and the code that made it, so that neither another
input nor another version of the program can find it. It is records and arrays (`kept_format`, nothing that could run)
behind a checksum: what is damaged or cut off is deleted and computed again. Files appear whole (written beside, then
moved). Of two processes that need the same result one waits for the other, but not for ever. When the folder is full
up, the longest unused files go. Where nothing can be written the computation goes on without; `trouble` says why, and
a warning is logged once.

The folder is the store's own and belongs to the user alone (`store_folder`).
"""

from __future__ import annotations

import logging
import os
import platform
import re
import time
from collections import Counter, OrderedDict
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from hashlib import blake2b
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, TypeVar

from filelock import FileLock, Timeout
from platformdirs import user_cache_dir
from threadpoolctl import threadpool_info

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

from .code_version import code_version
from .digest import digest
from .format import from_bytes, to_bytes
from .store_folder import LOCKS, OWN, claim, place_of, read_regular, trim, write_beside

T = TypeVar("T")
FOLDER, SIZE = "STRINGFLUX_CACHE", "STRINGFLUX_CACHE_SIZE"
"""Environment variables: the folder, or "off"; and its largest size, as "4 GB"."""
LARGEST = 2_000_000_000  # bytes
PATIENCE = 120.0  # s to wait for another process that computes the same; longer than any stage takes
_MAGIC = b"stringflux stage 2\n"
_SUM = 32
# Of each stage: how many are held in memory, whether it goes to the folder, whether others wait while one computes.
# Those with factors or kernels take some 10 MB each; twelve is as many different poles as a row may have.
_KINDS = {
    "mesh": (32, True, True), "bias": (16, True, True), "row": (16, True, True), "eddies": (256, True, True),
    "faces": (256, True, True), "rms": (20_000, True, False), "pull": (20_000, True, False),
    "rest": (50_000, True, False),
    "small signal": (12, False, False), "signal end": (24, False, False), "rings": (12, False, False),
    "link": (128, False, False), "drive": (64, False, False),  # between poles, and the coil at each
    "table": (12, False, False), "answer": (64, False, False),
    "section fields": (12, False, False), "everywhere": (4, False, False),  # for pictures of a row
    # of 3-D builds: nobody waits for one, for the others' own strings take the whole solution, which is not kept here
    "build": (256, True, False), "under": (4, False, False),
    "signal ends": (2, False, False),
    "string": (64, False, False), "map": (64, False, False),  # a prediction's: 50 kB of fields each; maps
    "swing": (256, False, False), "string pull": (64, False, False), "sensed": (64, False, False),
    # whole solutions with their meshes: of a build some 300 MB each
    "solved row": (4, False, False), "solved build": (3, False, False), "solved bars": (3, False, False),
    "solved magnets": (3, False, False),
}
_log = logging.getLogger(__name__)


class Store:
    """A `Keep` that remembers.

    Parameters
    ----------
    folder : path or None
        Where files go, and nothing else lies; None keeps in memory only.
    largest : int
        Bytes that the folder may hold.
    patience : float
        How long to wait for another process at the most, s.
    code : str, optional
        What stands for the code; the program's own version if left out.

    Attributes
    ----------
    counts : Counter
        How often a stage was "made", "remembered" or "read", as (kind, what); and files "damaged" or "unkept".
    trouble : str
        Why files could not be kept; "" while all is well.
    """

    def __init__(self, folder: Path | None, *, largest: int = LARGEST, patience: float = PATIENCE,
                 code: str | None = None) -> None:
        self.folder, self.largest, self.patience = folder, largest, patience
        self.counts: Counter[tuple[str, str]] = Counter()
        self.trouble = ""
        self._code = computing_code() if code is None else code
        self._memory: dict[str, OrderedDict[str, Any]] = {}
        self._unseen = largest  # bytes written since the folder was last looked through: look at once
        if folder is not None:
            self._open(folder)

    def __call__(self, kind: str, key: object, make: Callable[[], T], /) -> T:
        """The result of a stage, remembered, read or made."""
        most, to_disk, waits = _KINDS[kind]
        name = digest((kind, key, self._code))
        held = self._memory.setdefault(kind, OrderedDict())
        if name in held:
            self.counts[kind, "remembered"] += 1
            held.move_to_end(name)
            value: T = held[name]
            return value
        value = self._from_folder(kind, name, make, waits) if to_disk and self.folder else self._made(kind, make)
        held[name] = value
        while len(held) > most:
            held.popitem(last=False)
        return value

    def _made(self, kind: str, make: Callable[[], T]) -> T:
        value = make()
        self.counts[kind, "made"] += 1
        return value

    def _from_folder(self, kind: str, name: str, make: Callable[[], T], waits: bool) -> T:
        assert self.folder is not None  # only called with one
        path = place_of(self.folder, name)
        found = self._read(kind, path, name)
        if found is not None:
            value: T = found[0]
            return value
        lock = self._lock(name) if waits else None
        try:
            if lock is not None:
                found = self._read(kind, path, name)  # another process may have made it meanwhile
                if found is not None:
                    value = found[0]
                    return value
            value = self._made(kind, make)
            self._write(path, name, value)
            return value
        finally:
            if lock is not None:
                lock.release()

    def _lock(self, name: str) -> FileLock | None:
        """The lock of one result, or None if it cannot be had: then two may compute the same, which harms nobody.

        A holder that crashes lets go of it: the system does that.
        """
        assert self.folder is not None
        lock = FileLock(self.folder / LOCKS / name, timeout=self.patience, thread_local=False)
        try:
            lock.acquire(poll_interval=0.02)
        except (Timeout, OSError):
            return None
        return lock

    def _read(self, kind: str, path: Path, name: str) -> tuple[Any] | None:
        raw = read_regular(path)
        if raw is None:
            return None
        start, view = len(_MAGIC) + _SUM, memoryview(raw)
        if raw[:len(_MAGIC)] == _MAGIC and raw[len(_MAGIC):start] == _checksum(name, view[start:]):
            try:
                value = from_bytes(view[start:])
            except Exception as error:  # whole, and yet not ours to read: as good as damaged
                _log.debug("%s: %s", path, error)
            else:
                self.counts[kind, "read"] += 1
                _touch(path)
                return (value,)
        self.counts[kind, "damaged"] += 1
        with suppress(OSError):  # read-only: then it is computed every time
            path.unlink(missing_ok=True)
        return None

    def _write(self, path: Path, name: str, value: Any) -> None:
        payload = to_bytes(value)
        try:
            write_beside(path, _MAGIC, _checksum(name, payload), payload)
            self._unseen += max(len(payload), 4096)
            if self._unseen > self.largest / 32:
                assert self.folder is not None
                self._unseen = 0
                trim(self.folder, self.largest)
        except OSError as error:
            self._unkept(error.strerror or str(error))

    def _open(self, folder: Path) -> None:
        try:
            claim(folder)
        except OSError as error:
            self.folder = None
            self._unkept(error.strerror or str(error), folder)

    def _unkept(self, reason: str, folder: Path | None = None) -> None:
        self.counts["", "unkept"] += 1
        if not self.trouble:
            self.trouble = (f"stages are not kept in {folder or self.folder} ({reason}); the results are the same, "
                            "but more is computed again")
            _log.warning("%s", self.trouble)


def _checksum(name: str, payload: bytes | memoryview) -> bytes:
    """Of the content and of the name it was written for: a file under another name is no good."""
    return blake2b(payload, digest_size=_SUM, key=name.encode()).digest()


def _touch(path: Path) -> None:
    """Used now; told to the file system once a minute, for that takes longer than reading."""
    try:
        if time.time() - path.stat().st_mtime > 60:
            os.utime(path)
    except OSError:
        pass  # it was trimmed away, or the folder is read-only


@cache
def computing_code() -> str:
    """All that decides the last digit beside the inputs: our files, the libraries, the kind of processor."""
    libraries = [f"{name} {_version(name)}" for name in ("numpy", "scipy", "scikit-fem", "gmsh", "cvxopt")]
    kinds = sorted({str(info.get("architecture")) for info in threadpool_info()})
    return " ".join([code_version(), platform.python_version(), platform.machine(), *libraries, *kinds])


def _version(library: str) -> str:
    try:
        return version(library)
    except PackageNotFoundError:  # there is no need of every one
        return "missing"


def memory() -> Store:
    """A store that keeps in memory only, for as long as somebody has it."""
    return Store(None, code="")


@cache
def default_store() -> Store:
    """The store of this process, as the environment says.

    Raises
    ------
    CaseError
        When `STRINGFLUX_CACHE_SIZE` is no size.
    """
    where = os.environ.get(FOLDER, "")
    if where.strip().lower() == "off":
        return Store(None)
    folder = Path(where).expanduser() if where else Path(user_cache_dir("stringflux"))
    return Store(folder / OWN, largest=_size(os.environ.get(SIZE, "")))


def _size(text: str) -> int:
    if not text:
        return LARGEST
    match = re.fullmatch(r"\s*([0-9]{1,9}(?:\.[0-9]{1,6})?)\s*(k|M|G|T)?i?B?\s*", text, re.IGNORECASE)
    if match is None:
        raise CaseError(f'{SIZE}: received {shown(text)}; write a size such as "4 GB"')
    return int(float(match[1]) * 1000 ** ("kmgt".index(match[2].lower()) + 1 if match[2] else 0))
