"""The text of a file that a person names: a case, a mix, a study, readings."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

LARGEST_FILE = 1_000_000  # bytes; a case with long tables has some 50 000


def is_no_plain_file(path: Path) -> bool:
    """Whether there is something of that name that is neither a file nor a folder: a pipe, a device, a socket."""
    try:
        mode = path.stat().st_mode
    except (OSError, ValueError):
        return False
    return not stat.S_ISREG(mode) and not stat.S_ISDIR(mode)


def no_plain_file(text: str, what: str) -> CaseError:
    """The sentence about such a thing."""
    return CaseError(f"{shown(text)} is no ordinary file but a pipe, a device or a socket; save {what} in a file "
                     "and name that")


def read_text_file(path: str | os.PathLike[str], what: str) -> str:
    """Text of a file, which is UTF-8 with or without a mark at its beginning.

    Parameters
    ----------
    what : str
        What sentences call its kind: "a case file".

    Raises
    ------
    CaseError
        It cannot be read, is no file, is too large or is no UTF-8 text; one sentence.
    """
    text, name = os.fspath(path), Path(path).name
    try:
        # a pipe without a writer would be waited for: it opens at once this way, and is then seen to be no file
        number = os.open(text, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except OSError as error:
        if is_no_plain_file(Path(path)):  # a socket
            raise no_plain_file(text, what) from None
        raise CaseError(f"{shown(text)} cannot be read: {error.strerror}; name {what}") from None
    except ValueError:  # a NUL in the name
        raise CaseError(f"{shown(text)} is no possible name; name {what}") from None
    try:
        mode = os.fstat(number).st_mode
        if stat.S_ISDIR(mode):
            raise CaseError(f"{shown(text)} is a folder; name {what} in it")
        if not stat.S_ISREG(mode):
            raise no_plain_file(text, what)
        with os.fdopen(number, "rb", closefd=False) as file:
            raw = file.read(LARGEST_FILE + 1)
    except OSError as error:
        raise CaseError(f"{shown(text)} cannot be read: {error.strerror}; name {what}") from None
    finally:
        os.close(number)
    if len(raw) > LARGEST_FILE:
        raise CaseError(f"{name} is larger than {LARGEST_FILE // 1000} kB; {what} is far smaller")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise CaseError(f"{name}, line {line}: this is not UTF-8 text; save the file as UTF-8") from None
