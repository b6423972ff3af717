"""What `stringflux shape` does."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stringflux.geometry.late import late

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

__getattr__ = late(__name__, _HOME)
