"""Keys that had other names: read for one version more, and told.

Old names are looked for anywhere in a file, for no table has a key of such a name for something else.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Mapping
from typing import Any

NEW = {"partner": "second_coil", "sense": "winding", "history": "charged"}
_VALUES = {"charged": {f"charged {when} assembly": f"{when} assembly" for when in ("before", "after")}}
_HEAD = re.compile(r"^(\s*\[\[?\s*)partner\b", re.MULTILINE)
_LINE = re.compile(r"^(\s*)(sense|history)(\s*=\s*)(?:\"charged (before|after) assembly\")?", re.MULTILINE)


class OldWordWarning(FutureWarning):
    """A key's name of before, which the next version will not know."""


def in_new_words(content: Mapping[str, Any], name: str) -> dict[str, Any]:
    """A file's content with the names of today.

    Parameters
    ----------
    content : mapping
        As a TOML reader gives it.
    name : str
        What a note calls the file.

    Warns
    -----
    OldWordWarning
        Once for every old name.

    Examples
    --------
    >>> in_new_words({"coil": {"turns": 5}}, "mine.toml")
    {'coil': {'turns': 5}}
    """
    found: dict[str, None] = {}
    changed: dict[str, Any] = _renamed(content, found)
    for old in found:
        warnings.warn(f"{name}: \"{old}\" is now called \"{NEW[old]}\"; the next version reads that alone",
                      OldWordWarning, stacklevel=2)
    return changed


def _renamed(node: Any, found: dict[str, None]) -> Any:
    if isinstance(node, list):
        return [_renamed(item, found) for item in node]
    if not isinstance(node, Mapping):
        return node
    out = {}
    for key, value in node.items():
        new = str(NEW.get(key, key))
        if new != key and new not in node:
            found[key] = None
        else:
            new = key  # both names: the old one is then an unknown key, as any other
        out[new] = new_value(new, _renamed(value, found))
    return out


def new_value(key: str, value: Any) -> Any:
    """What a key of today holds where an old file says `value`."""
    return _VALUES.get(key, {}).get(value, value) if isinstance(value, str) else value


def new_path(dotted: str) -> str:
    """A dotted path with the names of today.

    Examples
    --------
    >>> new_path("partner.1.coil.sense")
    'second_coil.1.coil.winding'
    """
    return ".".join(NEW.get(step, step) for step in dotted.split("."))


def text_in_new_words(text: str) -> str:
    """A file's own text, line for line, with the names of today where they stand in lines of their own.

    Examples
    --------
    >>> print(text_in_new_words('[[partner]]\\n[partner.coil]\\nsense = "clockwise"  # my lathe'))
    [[second_coil]]
    [second_coil.coil]
    winding = "clockwise"  # my lathe
    """
    return _LINE.sub(_as_today, _HEAD.sub(r"\1second_coil", text))


def _as_today(found: re.Match[str]) -> str:
    value = f'"{found[4]} assembly"' if found[4] else ""
    return f"{found[1]}{NEW[found[2]]}{found[3]}{value}"
