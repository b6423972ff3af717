"""Fields and inductance of a pickup: materials, weak forms, cells, the coil, the row."""

from __future__ import annotations

from importlib import import_module
from typing import Any

__all__ = ["RowField", "SolvedRow", "solve_row"]

_HOME = {"solve_row": ".row.solve", "SolvedRow": ".row.solve", "RowField": ".row.field"}


def __getattr__(name: str) -> Any:
    if name in _HOME:  # late: whoever needs one name does not pay for the others
        return getattr(import_module(_HOME[name], __name__), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
