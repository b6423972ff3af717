"""What `stringflux shape` does."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .limits import Making
    from .result import ShapeDesign, ShapeRequest, ShapeStudy
    from .study import shape

__all__ = ["Making", "ShapeDesign", "ShapeRequest", "ShapeStudy", "shape"]

_HOME = {
    "Making": ".limits",
    "ShapeDesign": ".result",
    "ShapeRequest": ".result",
    "ShapeStudy": ".result",
    "shape": ".study",
}


def __getattr__(name: str) -> Any:
    if name in _HOME:  # late: whoever needs one name does not pay for the others
        return getattr(import_module(_HOME[name], __name__), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
