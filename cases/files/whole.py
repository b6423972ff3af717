"""Files that are there whole or not at all, the folder they go into, and the sentence for a full disk."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from stringflux.geometry.errors import OutputError, WriteError
from stringflux.geometry.units import shown

from ..ending import left_behind, placing


@contextmanager
def beside(path: Path) -> Iterator[Path]:
    """A name in the same folder to write to; what is there at the end takes the place of `path`, nothing stays.

    Its ending is that of `path`: who writes may choose the format by it.
    """
    temp = path.with_name(f".{path.name}.writing-{os.getpid()}{path.suffix}") if path.name else path
    clear = partial(temp.unlink, missing_ok=True)
    with left_behind(clear):
        try:
            yield temp
            placing()
            temp.replace(path)
        finally:
            clear()


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is there whole or not at all, even after a power cut.

    Raises
    ------
    WriteError
    """
    try:
        with beside(path) as temp, temp.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise cannot_write(path, error) from None


def cannot_write(path: Path, error: OSError) -> WriteError:
    """The sentence for a disk that takes no more."""
    return WriteError(
        f"{path} cannot be written ({error.strerror or error}); the designs finished before are kept, make room and "
        "run the same command with --resume"
    )


def write_new(where: str, text: str, *, argument: str, force: bool) -> Path:
    """Write a text file that is not there yet, whole or not at all.

    Raises
    ------
    OutputError
        If it is there and `force` is not given, or cannot be written.
    """
    refuse_present(where, argument=argument, force=force)
    path, said = Path(where), f"{argument}: received {shown(where)}"
    try:
        with beside(path) as temp:
            temp.write_text(text, encoding="utf-8")
    except OSError as error:
        raise OutputError(f"{said}, which cannot be written ({error.strerror}); name another file") from None
    except ValueError:  # a NUL in the name
        raise OutputError(f"{said}, which is no possible name; name a file") from None
    return path


def refuse_present(where: str, *, argument: str, force: bool) -> None:
    """Refuse a file that is there already, unless `force` is given, and a folder.

    Raises
    ------
    OutputError
    """
    path, said = Path(where), f"{argument}: received {shown(where)}"
    try:
        if path.is_dir():
            raise OutputError(f"{said}, which is a folder; name a file")
        if path.exists() and not force:
            raise OutputError(f"{said}, which is already there; name another file or add --force")
    except OSError as error:
        raise OutputError(f"{said}, which cannot be written ({error.strerror}); name another file") from None
    except ValueError:  # a NUL in the name
        raise OutputError(f"{said}, which is no possible name; name a file") from None


def refuse_unwritable(folder: Path, said: str) -> None:
    """Refuse a folder in which nothing can be made, or that cannot be made itself; nothing is written.

    Raises
    ------
    OutputError
        Its sentence begins with `said`.
    """
    place = folder.absolute()
    while not place.exists():
        place = place.parent
    if not place.is_dir():
        raise OutputError(f"{said}, but {shown(str(place))} is a file and can hold no folder")
    if not os.access(place, os.W_OK | os.X_OK):
        raise OutputError(f"{said}, but {shown(str(place))} may not be written to; name a folder where you may")


def usable_folder(out: str) -> Path:
    """The folder that `--out` names; made if it is not there.

    Raises
    ------
    OutputError
        If no file can be written into it.
    """
    folder = Path(out)
    try:
        if folder.exists() and not folder.is_dir():
            raise OutputError(f"--out: received {shown(out)}, which is a file; name a folder")
        folder.mkdir(parents=True, exist_ok=True)
        if os.access(folder, os.W_OK | os.X_OK):
            return folder
        reason = "no permission"
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", "") or "no possible name"
    raise OutputError(f"--out: received {shown(out)}, where nothing can be written ({reason}); name another folder")
