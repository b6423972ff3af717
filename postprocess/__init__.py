"""What the fields mean for strings: magnetisation, linkage, sensitivity, balance, figures."""

from __future__ import annotations

from importlib import import_module
from typing import Any

__all__ = ["CoilRecord", "PoleRecord", "Prediction", "StringRecord", "string_model"]

_HOME = {
    "Prediction": ".results.prediction",
    "StringRecord": ".records.prediction",
    "PoleRecord": ".records.prediction",
    "CoilRecord": ".records.prediction",
    "string_model": ".string.model",
}


def __getattr__(name: str) -> Any:
    if name in _HOME:  # late: whoever needs one name does not pay for the others
        return getattr(import_module(_HOME[name], __name__), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
