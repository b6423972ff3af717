"""A case file with some values changed: the person's own text where that is possible, else written anew.

A line ``key = value`` under its table is changed in place and keeps its remark; a key that is not there is put
under the table's last line, a table that is not there behind the one it is in. What comes out is read again, and must
hold exactly the wanted content; if it does not (tables in one line within lists), all of it is written anew, without
the remarks.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Any

from stringflux.geometry.reading.old_words import text_in_new_words

_HEAD = re.compile(r"\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?")
_BARE = re.compile(r"[A-Za-z0-9_-]+")


def with_changes(text: str, wanted: Mapping[str, Any], changes: Mapping[str, Any], remark: str = "") -> str:
    """The text of a file whose content is `wanted`.

    Parameters
    ----------
    text : str
        Of the file before.
    wanted : mapping
        Its content afterwards, as a TOML reader gives it.
    changes : mapping of str to object
        What was changed, by dotted path with items counted from 1: ``{"pole.1.part.1.charge": 0.9}``.
    remark : str
        Lines to put above, without their #.
    """
    edited: str | None = text_in_new_words(text)
    for dotted, value in changes.items():
        edited = None if edited is None else _edited(edited, dotted.split("."), value, wanted)
    note = "".join(f"# {line}\n" for line in remark.splitlines())
    if edited is not None:
        try:
            if tomllib.loads(edited) == dict(wanted):
                return note + edited.removeprefix("\ufeff")
        except tomllib.TOMLDecodeError:
            pass
    return note + toml_text(wanted)


def without_key(text: str, path: Sequence[str]) -> str | None:
    """The text without the lines of one key, or None where its place is not plain to see.

    Examples
    --------
    >>> without_key('[coil]  # wound by hand\\nturns = 5\\nwire = "42 AWG"\\n', ("coil", "turns"))
    '[coil]  # wound by hand\\nwire = "42 AWG"\\n'
    """
    lines = text.splitlines()
    span = table_lines(lines, path[:-1])
    found = None if span is None else _key_lines(lines, span, path[-1])
    return None if found is None else "\n".join([*lines[:found[0]], *lines[found[1]:]]) + "\n"


def _edited(text: str, path: Sequence[str], value: Any, wanted: Mapping[str, Any]) -> str | None:
    """The text with one value changed, or None where its place is not plain to see."""
    lines = text.splitlines()
    *table, key = path
    span = table_lines(lines, table)
    if span is None:
        return _in_new_table(lines, path, value, wanted)
    first, last = span
    # a text, a small table or a list in one line, or a number; what comes out is read again and compared
    written = r"\"[^\"]*\"|\{[^{}#]*\}|\[[^\[\]#]*\]|[^\s#\[{\"']+"
    pattern = re.compile(rf"(\s*{re.escape(key)}\s*=\s*)({written})(\s*(?:#.*)?)")
    for i in range(first, last):
        match = pattern.fullmatch(lines[i])
        if match:
            lines[i] = f"{match[1]}{inline(value)}{match[3]}"
            return "\n".join(lines) + "\n"
    found = _key_lines(lines, span, key)
    if found is not None:  # a value in single quotes, or over several lines
        return "\n".join([*lines[:found[0]], f"{_key(key)} = {inline(value)}", *lines[found[1]:]]) + "\n"
    filled = [i for i in range(first, last) if lines[i].strip() and not lines[i].lstrip().startswith("#")]
    at = filled[-1] + 1 if filled else first
    lines.insert(at, f"{_key(key)} = {inline(value)}")
    return "\n".join(lines) + "\n"


def _key_lines(lines: Sequence[str], span: tuple[int, int], key: str) -> tuple[int, int] | None:
    """First and last line (not included) of a key with its value; None where it is not there."""
    begin = re.compile(rf"\s*[\"']?{re.escape(key)}[\"']?\s*=")
    for i in range(*span):
        if begin.match(lines[i]):
            for j in range(i + 1, span[1] + 1):
                with suppress(tomllib.TOMLDecodeError):
                    tomllib.loads("\n".join(lines[i:j]))
                    return i, j
    return None


def _in_new_table(lines: list[str], path: Sequence[str], value: Any, wanted: Mapping[str, Any]) -> str | None:
    """A value in a table that has no head: the table stands in one line, or is not there yet."""
    *table, key = path
    if not table or table[-1].isdigit():
        return None
    above = table_lines(lines, table[:-1])
    if above is None:
        return None
    if _key_lines(lines, above, table[-1]):
        node: Any = wanted
        for step in table:
            node = node[int(step) - 1] if isinstance(node, list) else node[step]
        return _edited("\n".join(lines) + "\n", table, node, wanted)
    head = ".".join(_key(step) for step in table if not step.isdigit())
    at = above[1] if len(table) > 1 else len(lines)
    while at > above[0] and not lines[at - 1].strip():
        at -= 1
    return "\n".join([*lines[:at], "", f"[{head}]", f"{_key(key)} = {inline(value)}", *lines[at:]]) + "\n"


def line_of(text: str, path: Sequence[str]) -> int | None:
    """Number of the line that holds a place of a case, or the head of the table it would be in; None where none does.

    Parameters
    ----------
    path : sequence of str
        Steps from the file to the place, items counted from 1: ``("pole", "1", "part", "2", "length")``.

    Examples
    --------
    >>> line_of('title = "x"\\n[coil]\\nturns = 5', ("coil", "turns")), line_of("[coil]", ("coil", "wire"))
    (3, 1)
    """
    lines = text.splitlines()
    for n in range(len(path), -1, -1):
        span = table_lines(lines, path[:n]) or (table_lines(lines, (*path[:n], "1")) if n else None)
        if span is None:
            continue
        for step in path[n : n + 1]:
            key = re.compile(rf"\s*[\"']?{re.escape(step)}[\"']?\s*[=.]")
            for i in range(*span):
                if key.match(lines[i]):
                    return i + 1
        return span[0] or None  # the head's own line, counted from 1
    return None


def table_lines(lines: Sequence[str], wanted: Sequence[str]) -> tuple[int, int] | None:
    """First and last line (not included) under the head of a table such as ``["pole", "1", "part", "2"]``."""
    counts: dict[tuple[str, ...], int] = {}
    first = 0 if not wanted else None
    for i, line in enumerate(lines):
        match = _HEAD.fullmatch(line)
        if match is None:
            continue
        if first is not None:
            return first, i
        names = [name.strip().strip('"') for name in match[2].split(".")]
        if match[1] == "[[":
            full = _numbered(names[:-1], counts)
            counts[(*full, names[-1])] = counts.get((*full, names[-1]), 0) + 1
        if _numbered(names, counts) == tuple(wanted):
            first = i + 1
    return None if first is None else (first, len(lines))


def _numbered(names: Sequence[str], counts: Mapping[tuple[str, ...], int]) -> tuple[str, ...]:
    """Names with the number of the newest item after each that is a list of tables."""
    out: tuple[str, ...] = ()
    for name in names:
        out = (*out, name)
        if out in counts:
            out = (*out, str(counts[out]))
    return out


def toml_text(data: Mapping[str, Any]) -> str:
    """Content as TOML, tables under their heads.

    Examples
    --------
    >>> print(toml_text({"title": "x", "pole": [{"part": [{"length": "17 mm"}]}]}), end="")
    title = "x"
    <BLANKLINE>
    [[pole]]
    <BLANKLINE>
    [[pole.part]]
    length = "17 mm"
    """
    return "\n".join(_table(data, ())).strip("\n") + "\n"


def _table(data: Mapping[str, Any], path: tuple[str, ...]) -> list[str]:
    def is_list(value: Any) -> bool:
        return isinstance(value, list) and bool(value) and all(isinstance(v, dict) for v in value)

    small = {k: v for k, v in data.items() if not is_list(v) and not (isinstance(v, dict) and len(path) < 2)}
    lines = [f"{_key(k)} = {inline(v)}" for k, v in small.items()]
    for k, v in data.items():
        if k in small:
            continue
        here = (*path, _key(k))
        for item in v if isinstance(v, list) else [v]:
            mark = ("[[", "]]") if isinstance(v, list) else ("[", "]")
            lines += ["", f"{mark[0]}{'.'.join(here)}{mark[1]}", *_table(item, here)]
    return lines


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else json.dumps(name, ensure_ascii=False)


def inline(value: Any) -> str:
    """A value as TOML in one line."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(k)} = {inline(v)}" for k, v in value.items()) + " }" if value else "{}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(inline(v) for v in value) + "]"
    # JSON writes the rest as TOML does
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
