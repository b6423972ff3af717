"""Cases of demonstrations that have a kind of their own: finding, reading and naming them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.changes import change_value

from ..files.load import at_line, built_in_uses, find_file, shipped_cases
from ..files.text import read_text_file
from ..files.toml_faults import toml_content
from ..output.document import CaseSource

Own = TypeVar("Own")


def read_own(which: str, changes: Mapping[str, Any], *, shipped: Sequence[str], table: str,
             read: Callable[[Mapping[str, Any], Mapping[str, str]], Own]) -> tuple[Own, CaseSource]:
    """A case of a demonstration, and where it came from.

    Parameters
    ----------
    which : str
        A file, or the name of a shipped one.
    shipped : sequence of str
        Their names, the one to begin with first; they lie beside this file.
    table : str
        A table that such a case has and a pickup has not.
    read : callable
        From the file's content and the uses of built-in materials to the case.

    Raises
    ------
    CaseError
        If there is no such case, or it says something that cannot be; one sentence.
    """
    name, own = shipped[0], {one: Path(__file__).with_name(f"{one}.toml") for one in shipped}
    pickups = dict.fromkeys(shipped_cases(), f"is a pickup; this demonstration has a case of its own, {name}")
    path = find_file(which, "case", own, pickups)
    text = read_text_file(path, "a case file")
    data = toml_content(text, path.name)
    if "string" in data and table not in data:
        raise CaseError(f"{path.name} is a pickup; this demonstration has a case of its own: begin with a copy of "
                        f"{name}.toml")
    try:
        for dotted, value in changes.items():
            change_value(data, dotted, value)
        case = read(data, built_in_uses())
    except CaseError as error:
        raise CaseError(f"{path.name}{at_line(str(error), text, changes)}: {error}") from None
    return case, CaseSource(name=path.stem, text=text, changes=dict(changes))
