"""A commented case to edit, for `stringflux start`."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from .load import TEMPLATE, find_case, load_case, read_content
from .named_files import text_with_whole_paths
from .text import read_text_file
from .whole import write_new

_OWN_HEAD = "stringflux check-case"


def write_start(where: str, *, force: bool = False) -> Path:
    """Write the commented template under a name of the person's choice."""
    return write_text(where, TEMPLATE.read_text(encoding="utf-8"), force=force)


def write_text(where: str, text: str, *, force: bool = False) -> Path:
    """Write a text made of the template; its lines to copy then name the file."""
    return write_new(where, text.replace("THIS-FILE", shlex.quote(Path(where).name)), argument="FILE", force=force)


def write_like(where: str, which: str, changes: Mapping[str, Any], *, force: bool = False) -> Path:
    """Write the keys of a case with what they mean, and some values changed.

    Raises
    ------
    CaseError
        If there is no such case, or the changes make none.
    """
    from stringflux.geometry.reading.old_words import text_in_new_words

    from .changed import with_changes
    from .commented import commented

    load_case(which, changes)
    text, content = read_text_file(find_case(which), "a case file"), read_content(which, changes)
    text = text_with_whole_paths(text_in_new_words(text), find_case(which).parent)
    made = commented(with_changes(text, content, changes))
    return write_text(where, made if _OWN_HEAD in made else f"{template_head()}\n{made}", force=force)


def template_head() -> str:
    """What the template says of case files, before its first key."""
    return TEMPLATE.read_text(encoding="utf-8").partition("\n\n")[0] + "\n"


def next_line(*words: str) -> str:
    """A line of this program to copy into the terminal from which it was called, on the path there or not."""
    called = Path(sys.argv[0])
    found = shutil.which("stringflux")
    package = Path(__file__).resolve().parents[2]  # another program's __main__.py may lie in an environment inside it
    if called.resolve() in (package / "__main__.py", package / "cases" / "__main__.py"):
        program = [sys.executable, "-m", "stringflux"]
    elif called.name.startswith("stringflux") and not (found and called.exists() and os.path.samefile(found, called)):
        program = [str(called)]
    else:
        program = ["stringflux"]
    line = [*program, *words]
    return subprocess.list2cmdline(line) if os.name == "nt" else shlex.join(line)
