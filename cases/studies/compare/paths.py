"""The paths that the model of a case has, without numbers, and the tables that lie under its keys."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from types import NoneType, UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from stringflux.geometry.case.keys import Table
from stringflux.geometry.case.model import Case

# What no figure of a study looks at.
IDLE = ("title", "note", "scatter", "height_screws", "pole.part.thread", "second_coil.pole.part.thread")


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
    """Of several kinds of table the one that the file names by shape or kind; the first if it names none."""
    for table in tables:
        for key in ("shape", "kind"):
            field = table.model_fields.get(key)
            if field is not None and node.get(key) in get_args(field.annotation):
                return table
    return tables[0]


def flat(annotation: Any) -> Iterator[Any]:
    """An annotation and what stands inside its brackets, all levels."""
    yield annotation
    for part in get_args(annotation):
        yield from flat(part)


def near_paths(path: str, case: Case) -> str:
    """`` (did you mean …?)`` for paths whose last step, or all of it, is nearly that."""
    wanted = ".".join(step for step in path[:200].lower().split(".") if not step.isdigit())
    tables = {"body": case.body, "second_coil": case.second_coil, "connection": case.second_coil}
    absent = tuple(f"{key}." for key, there in tables.items() if not there)
    known = sorted({path for path in all_paths(Case, "") if not path.startswith(absent)} | {
        f"materials.{name}.{key}" for name, own in case.materials.items() for key in type(own).model_fields})
    last = wanted.rpartition(".")[2]
    ends = difflib.get_close_matches(last, {k.rpartition(".")[2] for k in known}, n=2, cutoff=0.7)
    found = {k for k in known if k.rpartition(".")[2] in ends} | set(difflib.get_close_matches(wanted, known, n=2))
    best = sorted(found, key=lambda k: -difflib.SequenceMatcher(None, wanted, k).ratio())[:3]
    return f" (did you mean {' or '.join(best)}?)" if best else ""


def all_paths(table: type[Table], before: str) -> Iterator[str]:
    """Paths of all keys, without numbers; names under [materials] are the case's own."""
    for key, info in table.model_fields.items():
        listed, tables = tables_of(info.annotation)
        if before + key in IDLE or listed == "dict":
            continue
        for inner in tables:
            yield from all_paths(inner, f"{before}{key}.")
        if not tables:
            yield before + key


def poles_beside(steps: tuple[str, ...], case: Case) -> int:
    """How many poles stand in the row that a key belongs to."""
    if steps[0] != "second_coil":
        return len(case.row.places())
    row = case.second_coil[int(steps[1]) - 1].row
    return 0 if row is None else len(row.places())
