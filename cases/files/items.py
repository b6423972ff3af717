"""Items of lists of tables, `[[string]]`, `[[pole.part]]`, taken out of a person's own text, or written once more."""

from __future__ import annotations

import re
import tomllib
from copy import deepcopy
from typing import Any

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

from .changed import table_lines, toml_text

_HEAD = re.compile(r"\s*\[\[?\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?")


def without_item(text: str, path: str) -> str:
    """The text without one item, its own lines and those of the tables in it.

    Raises
    ------
    CaseError
        If there is no such item.

    Examples
    --------
    >>> without_item('[[string]]\\ngauge = "1 mm"\\n\\n[[string]]\\ngauge = "2 mm"  # thick\\n', "string.1")
    '[[string]]\\ngauge = "2 mm"  # thick\\n'
    """
    content = tomllib.loads(text)
    items, at = _items(content, path)
    del items[at]
    _tidied(content)
    lines, (first, last) = text.splitlines(), _span(text, path)
    return _held("\n".join([*lines[:first], *lines[last:]]).rstrip("\n") + "\n" if last > first else "", content)


def with_copy(text: str, path: str) -> str:
    """The text with one more item like that, right behind it; remarks in lines of their own are not said twice.

    Raises
    ------
    CaseError
        If there is no such item.
    """
    content = tomllib.loads(text)
    items, at = _items(content, path)
    items.insert(at + 1, deepcopy(items[at]))
    lines, (first, last) = text.splitlines(), _span(text, path)
    block = [line for line in lines[first:last] if not line.lstrip().startswith("#")]
    while block and not block[-1].strip():
        block.pop()
    end = under = max((i + 1 for i in range(first, last) if lines[i].strip()), default=last)
    while under < len(lines) and lines[under].lstrip().startswith("#"):
        under += 1
    end = under if under == len(lines) or not lines[under].strip() else end  # else they are over the next head
    made = "\n".join([*lines[:end], "", *block, *lines[end:]]).rstrip("\n") + "\n"
    return _held(made if block else "", content)


def _items(content: Any, path: str) -> tuple[list[Any], int]:
    node: Any = content
    *steps, last = path.split(".")
    try:
        for step in steps:
            node = node[int(step) - 1] if isinstance(node, list) else node[step]
        number = int(last)
    except (KeyError, IndexError, ValueError, TypeError):
        node, number = None, 0
    if not isinstance(node, list) or not 1 <= number <= len(node):
        raise CaseError(f"there is no {shown(path)} here")
    return node, number - 1


def _tidied(content: dict[str, Any]) -> None:
    """A list without items is written by nobody."""
    for key in [k for k, v in content.items() if v == []]:
        del content[key]


def _span(text: str, path: str) -> tuple[int, int]:
    """Lines of an item from its head to the next head that is not within it; (0, 0) where it is no plain block."""
    lines, steps = text.splitlines(), path.split(".")
    found = table_lines(lines, steps)
    if found is None:
        return 0, 0
    first, last = found
    names = [s for s in steps if not s.isdigit()]
    while last < len(lines):
        match = _HEAD.fullmatch(lines[last])
        inner = [n.strip().strip('"') for n in match[1].split(".")] if match else []
        if len(inner) <= len(names) or inner[: len(names)] != names:
            break
        last += 1
        while last < len(lines) and not _HEAD.fullmatch(lines[last]):
            last += 1
    own = max(i for i in range(first - 1, last) if lines[i].strip() and not lines[i].lstrip().startswith("#")) + 1
    while own < last and not lines[own].strip():
        own += 1
    return first - 1, own  # remarks behind its last key are the next one's, or nobody's


def _held(made: str, content: Any) -> str:
    """The text if it says that content, else that content written anew."""
    try:
        if made and tomllib.loads(made) == content:
            return made
    except tomllib.TOMLDecodeError:
        pass
    return toml_text(content)


