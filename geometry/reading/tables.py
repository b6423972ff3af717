"""The tables that the model of a case has under its keys."""

from __future__ import annotations

from collections.abc import Mapping
from types import NoneType, UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from ..case.keys import Table


def tables_of(annotation: Any) -> tuple[str, list[type[Table]]]:
    """The tables that may stand under a key, and whether they do in a "list" or a "dict"."""
    origin, args = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return tables_of(args[0])
    if origin is dict:
        return "dict", tables_of(args[1])[1]
    if origin is tuple:
        return "list", tables_of(args[0])[1]
    if origin in (Union, UnionType):
        return "", [table for arg in args if arg is not NoneType for table in tables_of(arg)[1]]
    return "", [annotation] if isinstance(annotation, type) and issubclass(annotation, Table) else []


def chosen_table(tables: list[type[Table]], node: Mapping[str, Any]) -> type[Table]:
    """Of several kinds of table the one that the file names by shape or kind; the first if it names none. A body
    with a file needs no shape."""
    if "file" in node and "shape" not in node:
        node = {**node, "shape": "file"}
    for table in tables:
        for key in ("shape", "kind"):
            field = table.model_fields.get(key)
            if field is not None and node.get(key) in get_args(field.annotation):
                return table
    return tables[0]
