"""Files that are there whole or not at all, and the sentence for a full disk."""

from __future__ import annotations

import os
from pathlib import Path

from stringflux.geometry.errors import WriteError


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is there whole or not at all, even after a power cut.

    Raises
    ------
    WriteError
    """
    temp = path.with_name(f".{path.name}.writing-{os.getpid()}")
    try:
        try:
            with temp.open("wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            temp.replace(path)
        finally:
            temp.unlink(missing_ok=True)
    except OSError as error:
        raise cannot_write(path, error) from None


def cannot_write(path: Path, error: OSError) -> WriteError:
    """The sentence for a disk that takes no more."""
    return WriteError(
        f"{path} cannot be written ({error.strerror or error}); the designs finished before are kept, make room and "
        "run the same command with --resume"
    )
