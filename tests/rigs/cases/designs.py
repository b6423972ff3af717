"""Contents and designs of a small case, with changes."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

from stringflux.cases.studies.engine.task import Task
from stringflux.geometry.reading.changes import change_value


def designs_of(content: dict[str, Any]) -> tuple[Callable[..., dict[str, Any]], Callable[..., Task]]:
    """Two functions: the case's content, and a design of it on the coarsest mesh; changes by dotted path with __ for
    the points."""

    def document(**changes: Any) -> dict[str, Any]:
        data = copy.deepcopy(content)
        for path, value in changes.items():
            change_value(data, path.replace("__", "."), value)
        return data

    def task(number: int = 0, want: tuple[str, ...] = (), **changes: Any) -> Task:
        return Task(number=number, document=document(**changes), quality="draft", want=want)

    return document, task
