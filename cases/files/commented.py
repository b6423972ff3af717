"""A case file with what every key means beside it, for `stringflux start --like`.

The text stays line for line as it was written, with its own remarks. Over the first line of every key stands what the
model says of it, unless the line has a remark of its own; under the first table of every kind the keys that it could
have besides; and at the end the tables that the case does not have.
"""

from __future__ import annotations

import textwrap
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from stringflux.geometry.case.keys import Table
from stringflux.geometry.case.model import Case
from stringflux.geometry.reading.tables import chosen_table, tables_of

from .changed import line_of, table_lines, toml_text

WIDTH = 100
Note = tuple[tuple[str, ...], str]
"""Where something is said, and what."""


def commented(text: str) -> str:
    """The text of a case file with remarks; what it says stays the same.

    Parameters
    ----------
    text : str
        In the words of today, a good case.

    Examples
    --------
    >>> print(commented('[coil]\\nturns = 5000  # counted\\nwire = "42 AWG"').splitlines()[3])
    # Size of the wire.
    """
    content = tomllib.loads(text)
    made = _with_notes(text, content)
    # a key that also stands within a text of several lines: all of it is written anew
    return made if _content(made) == content else _with_notes(toml_text(content), content)


def _content(text: str) -> Any:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


def _with_notes(text: str, content: Mapping[str, Any]) -> str:
    lines = text.splitlines()
    above: dict[int, str] = {}
    under: dict[int, str] = {}
    for path, words in _keys(Case, content, ()):
        number = line_of(text, path)
        if number is not None and number not in above and _names(lines[number - 1], path) and not _remarked(
                lines[number - 1]):
            above[number] = words
    for path, words in _besides(Case, content, (), set()):
        span = table_lines(lines, path)
        if span is not None:
            filled = [i for i in range(*span) if lines[i].strip() and not lines[i].lstrip().startswith("#")]
            under[(filled[-1] if filled else span[0] - 1) + 1] = words
    out: list[str] = []
    for number, line in enumerate(lines, start=1):
        out += [*_remark(above.get(number, ""), line), line, *_remark(under.get(number, ""), line)]
    return "\n".join([*out, *_absent(content, text)]) + "\n"


ABSENT = "# What this case does not have and could; `stringflux start FILE` writes examples of it:"


def _absent(content: Mapping[str, Any], text: str) -> list[str]:
    """Tables and keys at the top of a case that a file does not have, with their keys, as remarks."""
    if ABSENT in text:  # by an earlier start
        return []
    tables, keys = list[str](), list[str]()
    for key, info in Case.model_fields.items():
        if key in content:
            continue
        listed, kinds = tables_of(info.annotation)
        if not kinds:
            keys.append(key)
            continue
        head = {"list": f"[[{key}]]", "dict": f"[{key}.NAME]"}.get(listed, f"[{key}]")
        inner = f" Its keys: {', '.join(kinds[0].model_fields)}." if len(kinds) == 1 else ""
        tables += textwrap.wrap(f"{head} {info.description}{inner}", WIDTH, initial_indent="#   ",
                                subsequent_indent="#     ", break_on_hyphens=False)
    besides = textwrap.wrap(f"before the first table: {', '.join(keys)}", WIDTH, initial_indent="#   ",
                            subsequent_indent="#     ") if keys else []
    return ["", ABSENT, *besides, *tables] if besides or tables else []


def _remark(words: str, line: str) -> list[str]:
    indent = line[: len(line) - len(line.lstrip())]
    return textwrap.wrap(words, WIDTH, initial_indent=f"{indent}# ", subsequent_indent=f"{indent}# ")


def _names(line: str, path: Sequence[str]) -> bool:
    """Whether a line is that of the path's last step, not only of a table in which it stands."""
    last = next(step for step in reversed(path) if not step.isdigit())
    return last in line


def _remarked(line: str) -> bool:
    """Whether a line ends with a remark."""
    return any(sign == "#" and _content(line[:i]) is not None for i, sign in enumerate(line))


def _keys(table: type[Table], node: Mapping[str, Any], path: tuple[str, ...],
          said: set[tuple[type[Table], str]] | None = None) -> Iterator[Note]:
    """Every key that the file has, the first time, and what the model says of it."""
    said = set() if said is None else said
    for key, value in node.items():
        info = table.model_fields.get(key)
        if info is None:
            continue
        if (table, key) not in said and info.description:
            said.add((table, key))
            yield (*path, key), info.description
        for place, inner, below in _inner(info.annotation, value, (*path, key)):
            yield from _keys(inner, below, place, said)


def _besides(table: type[Table], node: Mapping[str, Any], path: tuple[str, ...],
             seen: set[type[Table]]) -> Iterator[Note]:
    """Keys that the first table of every kind does not have."""
    left = [key for key in table.model_fields if key not in node]
    if path and table not in seen and left:
        yield path, f"It could also say: {', '.join(left)}."
    seen.add(table)
    for key, value in node.items():
        if info := table.model_fields.get(key):
            for place, inner, below in _inner(info.annotation, value, (*path, key)):
                yield from _besides(inner, below, place, seen)


def _inner(annotation: Any, value: Any,
           path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], type[Table], Mapping[str, Any]]]:
    """The tables under a key: place, kind, content."""
    listed, tables = tables_of(annotation)
    if not tables:
        return
    if listed == "list" and isinstance(value, list):
        for i, item in enumerate(value, start=1):
            yield (*path, str(i)), chosen_table(tables, item), item
    elif listed == "dict" and isinstance(value, Mapping):
        for name, item in value.items():
            yield (*path, name), chosen_table(tables, item), item
    elif isinstance(value, Mapping):
        yield path, chosen_table(tables, value), value
