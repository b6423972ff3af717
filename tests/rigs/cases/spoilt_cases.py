"""Case files spoilt on purpose: a fault at a place, and the result as TOML again."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

ONCE = ["delete", "rename", "negate", "retype", "nest", "double"]
"""Faults that need no rubbish; any other word puts rubbish in the place."""

RUBBISH: list[Any] = [
    "", " ", "mm", "0 mm", "-1 mm", "1e300 mm", "1e-300 mm", "nan", "inf mm", "1/0 in", "4.8", "4.8 T",
    "1 km", "5 mm 5 mm", "é", "\u0000", "\u202e4 mm", "E2", "42 AWG", "north up", "flat", "linear magnet",
    "x" * 3000, 0, 1, -1, 3, 2.5, -0.0, 1e308, float("inf"), float("-inf"), float("nan"), 10**30, True, False,
    [], [[]], ["1 mm"], [1, 2, 3], [[0, 0]], [None], {}, {"x": 1}, {"shape": "flat"}, {"shape": 3},
    {"kind": []}, [{}], [{"a": [{}]}],
]  # fmt: skip


def paths(node: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Places of all keys and items of the case."""
    children = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, child in children:
        yield (*at, key)
        yield from paths(child, (*at, key))


def parent(data: Any, path: tuple[Any, ...]) -> Any:
    """The table or list that holds a place; None where an earlier fault has taken it away."""
    for step in path[:-1]:
        inside = isinstance(data, dict) and step in data
        inside = inside or (isinstance(data, list) and isinstance(step, int) and step < len(data))
        if not inside:
            return None
        data = data[step]
    return data


def spoil(data: Any, path: tuple[Any, ...], how: str, rubbish: Any) -> None:
    """One fault at one place, in place."""
    node, key = parent(data, path), path[-1]
    if isinstance(node, dict):
        if key not in node:
            return
    elif not (isinstance(node, list) and isinstance(key, int) and key < len(node)):
        return
    value = node[key]
    if how == "delete":
        del node[key]
    elif how == "rename" and isinstance(node, dict):
        node[f"{key}s"] = node.pop(key)
    elif how == "negate":
        node[key] = (
            f"-{value}" if isinstance(value, str) else -value if isinstance(value, int | float) else value
        )
    elif how == "retype":
        node[key] = 4.8 if isinstance(value, str) else str(value)
    elif how == "nest":
        node[key] = {str(key): value} if isinstance(value, str) else [value]
    elif how == "double" and isinstance(value, list):
        node[key] = value + value
    else:
        node[key] = rubbish


def toml(value: Any) -> str:
    """A value as inline TOML."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(k)} = {toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(toml(v) for v in value) + "]"
    if isinstance(value, float) and value - value != 0:
        return "nan" if value != value else "inf" if value > 0 else "-inf"
    # JSON writes the rest as TOML does, but for None, which a file cannot hold
    return '"none"' if value is None else json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
