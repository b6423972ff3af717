"""What `stringflux compare` does."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stringflux.geometry.late import late

if TYPE_CHECKING:
    from .comparison import CompareRequest
    from .result import ComparedDesigns
    from .study import compare

__all__ = ["CompareRequest", "ComparedDesigns", "compare"]

_HOME = {
    "CompareRequest": ".comparison",
    "ComparedDesigns": ".result",
    "compare": ".study",
}

__getattr__ = late(__name__, _HOME)
