"""A case and its solution as one thing, whichever solver it goes to: `solved_case(case, quality)`."""

from __future__ import annotations

from importlib import import_module
from typing import Any

__all__ = ["SolvedCase", "solved_case"]

_HOME = {"SolvedCase": ".abstract", "solved_case": ".solve"}


def __getattr__(name: str) -> Any:
    if name in _HOME:  # late: whoever needs one name does not pay for the others
        return getattr(import_module(_HOME[name], __name__), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
