"""HTML files of ours: where one may be written."""

from __future__ import annotations

import os
from pathlib import Path

from stringflux.geometry.errors import OutputError
from stringflux.geometry.units import shown

ENDINGS = (".html", ".htm")


def writable(out: str, generator: str, what: str) -> Path:
    """The file to write, if it may be written; only an earlier one of ours is replaced.

    Parameters
    ----------
    generator : str
        What the head of such a file says that it was made by.
    what : str
        What it is, in a sentence: "report".

    Raises
    ------
    OutputError
    """
    path, said = Path(out), f"--out: received {shown(out)}"
    if path.suffix.lower() not in ENDINGS:
        raise OutputError(f"{said}; name a file that ends in .html (a browser prints it as PDF)")
    if "\0" in out:
        raise OutputError(f"{said}, which is no possible name; name a file")
    try:
        if path.is_dir():
            raise OutputError(f"{said}, which is a folder; name a file in it")
        if not path.parent.is_dir():
            raise OutputError(f"{said}, but there is no folder {shown(str(path.parent))}; make it, or name another "
                              "file")
        if not os.access(path.parent, os.W_OK | os.X_OK):
            raise OutputError(f"{said}, where nothing can be written (no permission); name another file")
        if path.exists():
            with path.open("rb") as file:
                if f'content="{generator}"'.encode() not in file.read(1000):
                    raise OutputError(f"{said}, which is there and is no {what} of stringflux; name another file")
    except OSError as error:
        raise OutputError(f"{said}, which cannot be written ({error.strerror}); name another file") from None
    return path
