"""What every JSON document of the program has in common, and what it found."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from stringflux.cases.output.document import SCHEMA

HEAD = ["program", "schema", "command", "date", "versions", "platform", "case", "units", "result", "files"]
CASE = ["name", "title", "text", "changes", "si", "units"]
KEY = re.compile(r"[A-Za-z0-9_.|-]+")  # | and - stand in names of materials and in paths


def document_of(text: str, command: str) -> dict[str, Any]:
    """The document that `text` is, once its head and its keys are as they should be."""
    read: dict[str, Any] = json.loads(text, parse_constant=_refused)
    assert list(read) == HEAD
    assert (read["program"], read["schema"], read["command"]) == ("stringflux", SCHEMA, command)
    assert datetime.fromisoformat(read["date"]).utcoffset() is not None
    assert list(read["case"]) == CASE
    assert read["case"]["text"]
    assert read["files"] == sorted(read["files"])
    odd = [key for key in _keys([read["units"], read["result"]]) if not KEY.fullmatch(key)]
    assert not odd, odd
    return read


def result_of(text: str, command: str) -> dict[str, Any]:
    """What the command found."""
    result: dict[str, Any] = document_of(text, command)["result"]
    return result


def _refused(name: str) -> float:
    raise AssertionError(f"{name} is no JSON")


def _keys(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        yield from value
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from _keys(inner)
