"""Values of a case's content changed by dotted path, items counted from 1: `pole.1.part.2.material`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..errors import CaseError
from ..units import shown
from .old_words import new_path, new_value


def change_value(data: Any, dotted: str, value: Any) -> None:
    """Put `value` at a dotted path of a file's content, which is changed in place.

    Raises
    ------
    CaseError
        Where the path goes through a value, or past a list's end.
    """
    *path, last = new_path(dotted).split(".")
    value, node = new_value(last, value), data
    for step in path:
        node = node[_index(node, step, dotted)] if isinstance(node, list) else node.setdefault(step, {})
        if not isinstance(node, dict | list):
            raise CaseError(f"the change {shown(dotted)} goes through {shown(node)}, which has no keys")
    node[_index(node, last, dotted) if isinstance(node, list) else last] = value


def dotted_values(table: Mapping[str, Any]) -> dict[str, Any]:
    """A table's values by dotted path: ``coil.turns = 6500`` is a table within a table to TOML.

    Examples
    --------
    >>> dotted_values({"coil": {"turns": 6500}, "pole.1.face": "1 mm"})
    {'coil.turns': 6500, 'pole.1.face': '1 mm'}
    """
    flat: dict[str, Any] = {}
    for key, value in table.items():
        if isinstance(value, Mapping):
            flat |= {f"{key}.{path}": inner for path, inner in dotted_values(value).items()}
        else:
            flat[key] = value
    return flat


def _index(items: list[Any], step: str, dotted: str) -> int:
    if not (step.isascii() and step.isdigit() and len(step) < 4 and 1 <= int(step) <= len(items)):
        raise CaseError(
            f"the change {shown(dotted)} has {shown(step)} where a number from 1 to {len(items)} belongs"
        )
    return int(step) - 1
