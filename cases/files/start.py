"""A commented case to edit, for `stringflux start`."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

from .load import TEMPLATE
from .whole import write_new


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
