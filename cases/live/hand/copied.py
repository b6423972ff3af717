"""One more thing like that, so that it can stand: with a name of its own, in a place of its own."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from copy import deepcopy
from typing import Any

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError

from ...files.changed import with_changes, without_key
from ...files.items import with_copy

MM = 1e3
Read = Callable[[str], Case]


def copied(text: str, path: str, read: Read) -> str:
    """The text with one more item behind that of `path`.

    A part has no second tip; of poles alike the last one becomes one of its own; a body stands beside, before or
    above the one that it is like, wherever there is room first.

    Raises
    ------
    CaseError
        One sentence, when there is no room for it, or no such item.
    """
    kind = path.split(".")[-2] if "." in path else ""
    if kind == "pole":
        made = _pole(text, path)
        read(made)
        return made
    place, _, number = path.rpartition(".")
    made = with_copy(text, path)
    new = f"{place}.{int(number) + 1}"
    item = _at(tomllib.loads(made), new)
    if kind == "part" and "tip" in item:
        made = _without(made, f"{new}.tip")
    if "name" in item:
        made = _set(made, {f"{new}.name": _another(item["name"], text)})
    if kind != "body":
        read(made)
        return made
    fault: CaseError | None = None
    for changes in _places(read(text), int(number), new, item):
        try:
            read(beside := _set(made, changes))
            return beside
        except CaseError as error:
            fault = fault or error
    raise fault or CaseError(f"there is no room for another {path}")


def _pole(text: str, path: str) -> str:
    """Poles alike become two entries, the last pole one of its own."""
    content = tomllib.loads(text)
    place, _, number = path.rpartition(".")
    entries = _at(content, place)
    if not isinstance(entries, list) or not 1 <= int(number) <= len(entries):
        raise CaseError(f"there is no {path} here")
    row = _at(content, f"{place[:-4]}row")
    count = row.get("count") or len(row.get("positions", ())) or 1
    others = {n for entry in entries for n in entry.get("at", ())}
    numbers = entries[int(number) - 1].get("at") or [n for n in range(1, int(count) + 1) if n not in others]
    if len(numbers) < 2:
        raise CaseError(f"{path}: it is one pole alone; raise count in [{place[:-4]}row] for one more")
    made = _set(with_copy(text, path), {f"{path}.at": numbers[:-1]})
    return _set(made, {f"{place}.{int(number) + 1}.at": numbers[-1:]})


def _another(name: str, text: str) -> str:
    stem = name.rstrip("0123456789").rstrip() or name
    return next(made for n in range(2, 1000) if (made := f"{stem} {n}") not in text)


def _places(case: Case, number: int, new: str, item: dict[str, Any]) -> Iterator[dict[str, Any]]:
    low, high = case.own_bodies()[number - 1].form.bounds
    body = case.body[number - 1]
    for axis, way in ((1, 1.0), (1, -1.0), (0, 1.0), (0, -1.0)):
        centre = list(body.centre)
        centre[axis] += way * (high[axis] - low[axis])
        yield {f"{new}.centre": [f"{MM * c:.6g} mm" for c in centre]}
    for way in (1.0, -1.0):
        level = "bottom" if "bottom" in item else "top"
        was = body.bottom if level == "bottom" else body.top
        if was is not None:
            yield {f"{new}.{level}": f"{MM * (was + way * (high[2] - low[2])):.6g} mm"}


def _at(content: Any, path: str) -> Any:
    for step in path.split("."):
        content = content[int(step) - 1] if isinstance(content, list) else content[step]
    return content


def _set(text: str, changes: dict[str, Any]) -> str:
    wanted = deepcopy(tomllib.loads(text))
    for path, value in changes.items():
        place, _, key = path.rpartition(".")
        _at(wanted, place)[key] = value
    return with_changes(text, wanted, changes)


def _without(text: str, path: str) -> str:
    """A text without a key; written anew where its place is not plain to see."""
    wanted = deepcopy(tomllib.loads(text))
    place, _, key = path.rpartition(".")
    del _at(wanted, place)[key]
    made = without_key(text, path.split("."))
    return made if made is not None and tomllib.loads(made) == wanted else with_changes(text, wanted, {})
