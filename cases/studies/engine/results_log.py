"""The log of a study: a line for every finished design.

Each line is JSON with a checksum of its own over the line and the study's key. A line that was cut off or damaged
is dropped when the study goes on, and that design is computed again. Floats come back to the last digit.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
import re
import time
from collections.abc import Set
from pathlib import Path
from types import TracebackType
from typing import Self

from ...files.whole import cannot_write, write_whole
from .task import Outcome

SYNC_EVERY = 1.0  # s; what a power cut may cost. A killed process loses nothing.
_LINE = re.compile(rb'\{"check":"([0-9a-f]{16})",(.*)', re.DOTALL)


class ResultsLog:
    """The log, open to go on with it, as a context manager.

    Parameters
    ----------
    path : path
    key : str
        The study's; lines of another one do not count.
    numbers : set of int
        Of the study's designs.

    Attributes
    ----------
    found : dict of int to Outcome
        What was finished when it was opened, by number.
    """

    def __init__(self, path: Path, key: str, numbers: Set[int]) -> None:
        self._path, self._key = path, key.encode()
        self.found, sound = self._read(numbers)
        if not sound:
            write_whole(path, b"".join(map(self._line, self.found.values())))
        try:
            self._file = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o666)
        except OSError as error:
            raise cannot_write(path, error) from None
        self._synced, self._waiting = time.monotonic(), False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if error is None:
                self._sync()
        finally:
            os.close(self._file)

    def append(self, outcome: Outcome) -> Outcome:
        """Keep a finished design; gives it back as it will be read.

        Raises
        ------
        WriteError
            If there is no room.
        """
        line = self._line(outcome)
        try:
            left = memoryview(line)
            while left:  # a nearly full disk takes a part
                left = left[os.write(self._file, left) :]
        except OSError as error:
            raise cannot_write(self._path, error) from None
        self._waiting = True
        return self._parsed(line)

    def sync_now_and_then(self) -> None:
        """Bring what was appended onto the disk, at most once a second."""
        if time.monotonic() - self._synced > SYNC_EVERY:
            self._sync()

    def _sync(self) -> None:
        if self._waiting:
            try:
                os.fsync(self._file)
            except OSError as error:
                raise cannot_write(self._path, error) from None
        self._synced, self._waiting = time.monotonic(), False

    def _line(self, outcome: Outcome) -> bytes:
        values = {name: _number(value) for name, value in outcome.values.items()}
        content = {
            "number": int(outcome.number),
            "values": values,
            "failure": str(outcome.failure),
            "seconds": round(float(outcome.seconds), 6),
            **({"machine": True} if outcome.machine else {}),
        }
        body = json.dumps(content, separators=(",", ":"))[1:].encode()
        return b'{"check":"' + self._check(body).encode() + b'",' + body + b"\n"

    def _check(self, body: bytes) -> str:
        return hashlib.sha256(self._key + body).hexdigest()[:16]

    def _parsed(self, line: bytes) -> Outcome:
        """The design of a line; ValueError if the line is not as it was written."""
        match = _LINE.fullmatch(line.rstrip(b"\n"))
        if match is None or self._check(match[2]).encode() != match[1]:
            raise ValueError
        content = json.loads(b"{" + match[2])
        values = {name: float(value) for name, value in content["values"].items()}
        return Outcome(
            number=content["number"], values=values, failure=content["failure"], seconds=content["seconds"],
            machine=content.get("machine", False),
        )

    def _read(self, numbers: Set[int]) -> tuple[dict[int, Outcome], bool]:
        """Designs of the log by number, and whether the log can be appended to as it is."""
        try:
            raw = self._path.read_bytes()
        except FileNotFoundError:
            return {}, True
        except OSError as error:
            raise cannot_write(self._path, error) from None
        found, sound = dict[int, Outcome](), raw.endswith(b"\n") or not raw
        for line in raw.splitlines():
            try:
                outcome = self._parsed(line)
            except ValueError:
                sound = False
                continue
            if outcome.number in numbers:
                found[outcome.number] = outcome  # the last: one that failed may have been tried again
        return found, sound


def _number(value: float) -> float | str:
    """A float that JSON has: its shortest text reads back as the same one; inf and nan go as text."""
    value = float(value)
    return value if math.isfinite(value) else repr(value)
