"""Shipped builds with fewer strings, for what needs a 3-D solution but not all six."""

from __future__ import annotations

from pathlib import Path

from stringflux.cases.files.load import shipped_cases

_STRING = "[[string]]\n"


def two_strings(name: str, folder: Path) -> Path:
    """The file of a shipped case that keeps its first two strings, in the middle of it."""
    head, *strings = shipped_cases()[name].read_text(encoding="utf-8").split(_STRING)
    path = folder / f"{name.replace('six', 'two')}.toml"
    path.write_text(head + "".join(_STRING + s for s in strings[:2]), encoding="utf-8")
    return path
