"""A case and its solution as one thing, whichever solver it goes to: `solved_case(case, quality)`."""

from __future__ import annotations

from stringflux.geometry.late import late

__all__ = ["SolvedCase", "solved_case"]

_HOME = {"SolvedCase": ".abstract", "solved_case": ".solve"}

__getattr__ = late(__name__, _HOME)
