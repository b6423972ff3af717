"""A design: the text of a case file, changed by a hand, and read.

An edit is what a person does in one movement: a value, a part removed, one like it added. It is done to the person's
own text, so that remarks and order stay (:mod:`...files.changed`, :mod:`...files.items`).
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Any, Literal

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.changes import change_value
from stringflux.geometry.reading.old_words import text_in_new_words
from stringflux.geometry.reading.read import read_case
from stringflux.geometry.units import shown

from ...files.changed import with_changes, without_key
from ...files.items import without_item
from ...files.load import at_line, built_in_uses
from ...files.toml_faults import toml_content
from ...solved.direct_current import refuse_direct_current
from .copied import copied

LONGEST = 200_000
"""Characters of a design."""
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_PATH = re.compile(r"[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]+){0,6}")


@dataclass(frozen=True, kw_only=True)
class Edit:
    """One change of a design.

    Attributes
    ----------
    act : {"set", "unset", "remove", "copy"}
        Put a value, take a key out, remove an item of a list of tables, or add one like it behind it.
    path : str
        Of the value or the item, with items counted from 1: ``row.face.3``, ``string.2``.
    value : object
        For "set": as a person types it, "3/16 in", "7000", or ``["slugs"]``.
    """

    act: Literal["set", "unset", "remove", "copy"] = "set"
    path: str
    value: Any = None

    def __post_init__(self) -> None:
        if self.act not in ("set", "unset", "remove", "copy") or not _PATH.fullmatch(self.path):
            raise CaseError(f"{shown(self.path)} is no place in a case; write it as in row.face.3")


def read_design(text: str) -> Case:
    """The case that a text says.

    Raises
    ------
    CaseError
        One sentence, with the line where it stands.
    """
    if len(text) > LONGEST:
        raise CaseError("the design is larger than 200 kB; a case file is far smaller")
    data = toml_content(text, "the design")
    try:
        case = read_case(data, materials=built_in_uses())
        refuse_direct_current(case, "the live page")
        return case
    except CaseError as error:
        line = at_line(str(error), text).removeprefix(", ")
        raise CaseError(f"{error} ({line})" if line else str(error)) from None


def edited(text: str, edits: Sequence[Edit]) -> str:
    """The text after some edits; it says a case that can be.

    Raises
    ------
    CaseError
        One sentence that says what would do; the text is as it was.
    """
    text = text_in_new_words(text)
    for edit in edits:
        text = _done(text, edit)
    return text


def written_value(content: Mapping[str, Any], path: str) -> Any:
    """What the file itself writes at a place, or None."""
    node: Any = content
    for step in path.split("."):
        try:
            node = node[int(step) - 1] if isinstance(node, list) else node[step]
        except (KeyError, IndexError, ValueError, TypeError):
            return None
    return node


def _done(text: str, edit: Edit) -> str:
    content = tomllib.loads(text)
    if edit.act == "copy":
        return copied(text, edit.path, read_design)
    if edit.act == "remove":
        made = without_item(text, edit.path)
        read_design(made)
        return made
    if edit.act == "unset":
        wanted = deepcopy(content)
        *table, key = edit.path.split(".")
        node = written_value(wanted, ".".join(table)) if table else wanted
        if not isinstance(node, dict) or key not in node:
            return text
        del node[key]
        less = without_key(text, edit.path.split("."))
        if less is None or tomllib.loads(less) != wanted:
            # of a table in one line what is left of it is written in its place
            less = with_changes(text, wanted, {".".join(table): node} if table else {})
        read_design(less)
        return less
    fault: CaseError | None = None
    for value in _readings(edit.value):
        try:
            return _set(text, content, edit.path, value)
        except CaseError as error:
            fault = fault or error
    raise fault or CaseError(f"{edit.path}: nothing was written")


def _set(text: str, content: Mapping[str, Any], path: str, value: Any) -> str:
    place, value = _whole(content, path, value)
    wanted = deepcopy(dict(content))
    change_value(wanted, place, value)
    read_case(wanted, materials=built_in_uses())
    return with_changes(text, wanted, {place: value})


def _whole(content: Mapping[str, Any], path: str, value: Any) -> tuple[str, Any]:
    """A list in one line is changed as a whole; one value for all becomes a list where one of them changes."""
    *table, last = path.split(".")
    if not last.isdigit() or not table:
        return path, value
    there, at = written_value(content, ".".join(table)), int(last)
    if isinstance(there, list) and not any(isinstance(v, dict) for v in there):
        values = list(there)
    elif isinstance(there, str | int | float):
        count = _count(content, table)
        values = [there] * count
    elif there is None:
        values = _in_effect(content, table)
    else:
        return path, value
    if not 1 <= at <= len(values):
        raise CaseError(f"{path}: there are {len(values)}; count from 1")
    values[at - 1] = value
    return ".".join(table), values


def _count(content: Mapping[str, Any], table: Sequence[str]) -> int:
    row = written_value(content, ".".join(table[:-1]))
    if not isinstance(row, dict):
        return 1
    return int(row.get("count") or len(row.get("positions", ())) or 1)


def _in_effect(content: Mapping[str, Any], table: Sequence[str]) -> list[Any]:
    """Lengths that the file leaves to the program, one each."""
    node: Any = read_case(deepcopy(dict(content)), materials=built_in_uses())
    try:
        for step in table:
            node = node[int(step) - 1] if isinstance(node, tuple) else getattr(node, step)
    except (AttributeError, IndexError, ValueError):
        node = None
    if isinstance(node, float):
        node = (node,) * _count(content, table)
    if not isinstance(node, tuple) or not all(isinstance(v, float) for v in node):
        raise CaseError(f"there is no {shown('.'.join(table))} here")
    return [f"{1e3 * v:.6g} mm" for v in node]


def _readings(value: Any) -> tuple[Any, ...]:
    """What a typed text may mean: a number is one before it is a text; brackets are a list or a small table."""
    if not isinstance(value, str):
        return (value,)
    typed = value.strip()
    if _NUMBER.fullmatch(typed):
        number = float(typed)
        return (int(number) if typed.lstrip("+-").isdigit() else number, typed)
    if typed[:1] in "[{":
        try:
            return (tomllib.loads(f"v = {typed}")["v"],)
        except tomllib.TOMLDecodeError:
            raise CaseError(f"received {shown(typed)}, which is no list; write it as in [\"slugs\"]") from None
    return (typed,)
