"""The paths that the model of a case has, without numbers."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from functools import cache
from typing import Any, get_args

from stringflux.geometry.case.keys import Table
from stringflux.geometry.case.model import Case
from stringflux.geometry.reading.tables import tables_of

_KEY_WORDS = {"face": "face height", "x": "place along the strings", "positions": "place across"}
# What no figure of a study looks at.
IDLE = ("title", "note", "scatter", "height_screws", "body.thread", "pole.part.thread",
        "second_coil.pole.part.thread")


def path_words(path: str) -> str:
    """A path in the words of a sentence.

    Examples
    --------
    >>> path_words("strings.gap"), path_words("pole.1.part.2.material"), path_words("pole.part.material")
    ('gap of the strings', 'material of pole 1 part 2', 'material of the pole part')
    >>> path_words("row.face.3"), path_words("string.2.gap"), path_words("probe_height")
    ('face height 3 of the row', 'gap of string 2', 'probe height')
    """
    steps = path.split(".")
    place = steps.pop() if steps[-1].isdigit() else ""
    key, homes = _KEY_WORDS.get(steps[-1], steps[-1].replace("_", " ")), steps[:-1]
    named = f"{key} {place}".strip()
    if not homes:
        return named
    whole = " ".join(homes).replace("_", " ")
    return f"{named} of {whole}" if any(step.isdigit() for step in homes) else f"{named} of the {whole}"


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
    known = sorted({path for path in _paths() if not path.startswith(absent)} | {
        f"materials.{name}.{key}" for name, own in case.materials.items() for key in type(own).model_fields})
    last = wanted.rpartition(".")[2]
    ends = difflib.get_close_matches(last, {k.rpartition(".")[2] for k in known}, n=2, cutoff=0.7)
    found = {k for k in known if k.rpartition(".")[2] in ends} | set(difflib.get_close_matches(wanted, known, n=2))
    best = sorted(found, key=lambda k: -difflib.SequenceMatcher(None, wanted, k).ratio())[:3]
    return f" (did you mean {' or '.join(best)}?)" if best else ""


@cache
def _paths() -> tuple[str, ...]:
    """All of the model's, which are found once: to look for them takes as long as to compare a path with each."""
    return tuple(all_paths(Case, ""))


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
