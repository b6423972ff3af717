"""A commented case to edit, for `stringflux start`."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

from stringflux.geometry.errors import OutputError
from stringflux.geometry.units import shown

from .load import TEMPLATE


def write_start(where: str, *, force: bool = False) -> Path:
    """Write the commented template under a name of the person's choice."""
    text = TEMPLATE.read_text(encoding="utf-8").replace("THIS-FILE", shlex.quote(Path(where).name))
    return write_new(where, text, argument="FILE", force=force)


def next_line(*words: str) -> str:
    """A line of this program to copy into the terminal from which it was called, on the path there or not."""
    called = Path(sys.argv[0])
    found = shutil.which("stringflux")
    if called.name == "__main__.py" and called.resolve().is_relative_to(Path(__file__).resolve().parents[2]):
        program = [sys.executable, "-m", "stringflux"]
    elif called.name.startswith("stringflux") and not (found and called.exists() and os.path.samefile(found, called)):
        program = [str(called)]
    else:
        program = ["stringflux"]
    line = [*program, *words]
    return subprocess.list2cmdline(line) if os.name == "nt" else shlex.join(line)


def write_new(where: str, text: str, *, argument: str, force: bool) -> Path:
    """Write a text file that is not there yet, whole or not at all.

    Raises
    ------
    OutputError
        If it is there and `force` is not given, or cannot be written.
    """
    path, said = Path(where), f"{argument}: received {shown(where)}"
    temp = path.with_name(f".{path.name}.writing-{os.getpid()}") if path.name else path
    try:
        if path.is_dir():
            raise OutputError(f"{said}, which is a folder; name a file")
        if path.exists() and not force:
            raise OutputError(f"{said}, which is already there; name another file or add --force")
        try:
            temp.write_text(text, encoding="utf-8")
            temp.replace(path)
        finally:
            temp.unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(f"{said}, which cannot be written ({error.strerror}); name another file") from None
    except ValueError:  # a NUL in the name
        raise OutputError(f"{said}, which is no possible name; name a file") from None
    return path
