"""Fields and inductance of a pickup: materials, weak forms, cells, the coil, the row."""

from __future__ import annotations

from stringflux.geometry.late import late

__all__ = ["RowField", "SolvedRow", "solve_row"]

_HOME = {"solve_row": ".row.solve", "SolvedRow": ".row.solve", "RowField": ".row.field"}

__getattr__ = late(__name__, _HOME)
