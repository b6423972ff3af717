"""What `stringflux tolerance` does."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stringflux.geometry.late import late

if TYPE_CHECKING:
    from .result import ToleranceStudy
    from .study import ToleranceRequest, tolerance

__all__ = ["ToleranceRequest", "ToleranceStudy", "tolerance"]

_HOME = {
    "ToleranceRequest": ".study",
    "ToleranceStudy": ".result",
    "tolerance": ".study",
}

__getattr__ = late(__name__, _HOME)
