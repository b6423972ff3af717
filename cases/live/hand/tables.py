"""The tables of a case as a person edits them: every key, what it is, what it may be, and what the file writes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from stringflux.geometry.case.keys import Number, Quantity
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.wire import wire_sizes
from stringflux.geometry.reading.written import marked
from stringflux.geometry.units import show

from ...files.changed import inline
from ...files.load import built_in_uses

_SINGLE = ("row", "coil", "strings", "connection", "lead", "load", "conditions")


def tables(case: Case, content: Mapping[str, Any]) -> list[dict[str, Any]]:
    """All tables of a case that hold values.

    Returns
    -------
    list of dict
        "path" of the table, "title", "many" (whether it is one of a list, and can be removed or copied), "keys":
        of each "key", "says", "written" (as the file has it, "" where it has not), "value" (in effect), "options".
    """
    uses = built_in_uses() | {name: "own" for name in case.materials}
    found: list[dict[str, Any]] = []
    _walk(case, "", content, uses, found)
    return found


def _walk(model: BaseModel, path: str, content: Any, uses: Mapping[str, str], found: list[dict[str, Any]]) -> None:
    keys, inner = [], []
    for name, field in type(model).model_fields.items():
        value, there = getattr(model, name), f"{path}.{name}" if path else name
        written = content.get(name) if isinstance(content, Mapping) else None
        if isinstance(value, BaseModel) and name != "tip":
            if name == "scatter" or (written is None and name not in _SINGLE):
                continue
            inner.append((value, there, written or {}))
        elif isinstance(value, tuple) and value and isinstance(value[0], BaseModel):
            items = written if isinstance(written, list) else []
            inner += [(v, f"{there}.{i}", items[i - 1] if i <= len(items) else {})
                      for i, v in enumerate(value, start=1)]
        elif name != "materials" and not (isinstance(value, tuple) and _of_tables(field.annotation)):
            keys.append(_key(name, field, value, written, uses))
    if keys and path:
        found.append({"path": path, "title": _title(path), "many": path.rpartition(".")[2].isdigit(), "keys": keys})
    elif keys:
        found.append({"path": "", "title": "pickup", "many": False, "keys": keys})
    for item in inner:
        _walk(*item, uses, found)


def _of_tables(annotation: Any) -> bool:
    """Whether tables stand in a list, which may be empty."""
    return (isinstance(annotation, type) and issubclass(annotation, BaseModel)) or any(
        _of_tables(part) for part in get_args(annotation))


def _title(path: str) -> str:
    words: list[str] = []
    for step in path.split("."):
        if step.isdigit():
            words[-1] += f" {step}"
        else:
            words.append(step)
    return ", ".join(words)


def _key(name: str, field: FieldInfo, value: Any, written: Any, uses: Mapping[str, str]) -> dict[str, Any]:
    quantity = marked(field, Quantity)
    return {
        "key": name, "says": field.description or "", "written": "" if written is None else _typed(written),
        "value": _in_effect(value, quantity), "options": _options(name, field, uses),
        "kind": quantity.kind if quantity else "number" if marked(field, Number) else "text",
    }


def _typed(written: Any) -> str:
    return written if isinstance(written, str) else inline(written)


def _in_effect(value: Any, quantity: Quantity | None) -> str:
    if value is None:
        return ""
    if isinstance(value, BaseModel):
        return inline(value.model_dump(exclude_unset=True))
    if isinstance(value, tuple):
        return ", ".join(_in_effect(v, quantity) for v in value)
    if quantity is not None and isinstance(value, float):
        return show(value, quantity.kind)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _options(name: str, field: FieldInfo, uses: Mapping[str, str]) -> list[str]:
    if name == "material":
        return [m for m, use in uses.items() if use != "string"]
    if name in ("steel", "wrap"):
        return [m for m, use in uses.items() if use in ("string", "own")]
    if name == "wire":
        return list(wire_sizes())
    return [str(v) for v in _literals(field.annotation)]


def _literals(annotation: Any) -> list[Any]:
    if get_origin(annotation) is Literal:
        return list(get_args(annotation))
    return [v for part in get_args(annotation) for v in _literals(part)]
