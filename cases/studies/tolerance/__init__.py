"""What `stringflux tolerance` does."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .result import ToleranceStudy
    from .study import ToleranceRequest, tolerance

__all__ = ["ToleranceRequest", "ToleranceStudy", "tolerance"]

_HOME = {
    "ToleranceRequest": ".study",
    "ToleranceStudy": ".result",
    "tolerance": ".study",
}


def __getattr__(name: str) -> Any:
    if name in _HOME:  # late: whoever needs one name does not pay for the others
        return getattr(import_module(_HOME[name], __name__), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
