"""Studies: many designs from one case, computed by one engine."""

from __future__ import annotations

from importlib import import_module
from typing import Any

__all__ = ["Outcome", "Task"]

_HOME = {"Outcome": ".engine.task", "Task": ".engine.task"}


def __getattr__(name: str) -> Any:
    if name in _HOME:  # late: whoever needs one name does not pay for the others
        return getattr(import_module(_HOME[name], __name__), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
