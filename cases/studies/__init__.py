"""Studies: many designs from one case, computed by one engine."""

from __future__ import annotations

from stringflux.geometry.late import late

__all__ = ["Outcome", "Task"]

_HOME = {"Outcome": ".engine.task", "Task": ".engine.task"}

__getattr__ = late(__name__, _HOME)
