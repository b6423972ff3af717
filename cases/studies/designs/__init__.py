"""One design of a study evaluated; the table of a study."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stringflux.geometry.late import late

if TYPE_CHECKING:
    from .run import Running

__all__ = ["Running"]

_HOME = {
    "Running": ".run",
}

__getattr__ = late(__name__, _HOME)
