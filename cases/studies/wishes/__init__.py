"""What `stringflux design` does."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stringflux.geometry.late import late

if TYPE_CHECKING:
    from .plan import DesignRequest
    from .result import FoundDesigns
    from .study import design

__all__ = ["DesignRequest", "FoundDesigns", "design"]

_HOME = {
    "DesignRequest": ".plan",
    "FoundDesigns": ".result",
    "design": ".study",
}

__getattr__ = late(__name__, _HOME)
