"""A case with its strings and poles at other heights: what its file has to say otherwise.

Heights are over the bobbin's top plate. A pole moves as a whole, with all its parts. A string that the file
places by a gap gets another gap when the pole that it counts from moves, so that the string stays where it is. In a
build that is a pole of the first row, which need not be the row that moves.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..case.model import Case
from ..case.placed_strings import placed_strings
from ..case.rows import PoleRow

MOVED = 1e-9
"""Less than this is no movement, m."""


def setting_changes(case: Case, faces: Sequence[float], lows: Sequence[float],
                    row: PoleRow | None = None) -> dict[str, Any]:
    """What the file has to say otherwise, by dotted path.

    Parameters
    ----------
    case : Case
        As it is.
    faces : sequence of float
        Wanted height of the face of every pole of the row, m; without a row they all stay.
    lows : sequence of float
        Wanted height of every string's underside, m.
    row : PoleRow, optional
        The one that moves; of one row of poles in one coil it need not be given.

    Returns
    -------
    dict
        ``{"row.face": [...], "string.2.gap": "2.35 mm"}``; empty where all stays as it is.
    """
    changes: dict[str, Any] = {}
    risen: dict[int, float] = {}
    if case.is_plain_row:
        row = row or case.rows()[0]
    if row is not None:
        rises = [new - old for new, old in zip(faces, row.row.faces(), strict=True)]
        if any(abs(rise) > MOVED for rise in rises):
            changes[row.path_of_faces] = [_mm(f) for f in faces]
        risen = dict(enumerate(rises, start=row.before + 1))
    for placed, string, new in zip(placed_strings(case), case.string, lows, strict=True):
        own = string if string.rules() else case.strings
        rule, number, low = own.rules()[0], placed.number, placed.underside
        if rule == "height":  # with a fingerboard's radius the common height is that of the highest string only
            if abs(new - low) > MOVED:
                changes[f"string.{number}.height"] = _mm(new)
            continue
        wider = new - low - risen.get(placed.face.pole, 0.0)
        if abs(wider) > MOVED:
            changes[f"string.{number}.{rule}"] = _mm(float(getattr(own, rule)) + wider)
    return changes


def _mm(value: float) -> str:
    # a tenth of a micrometre: far below what can be set, and finer than any of the differences that are used
    return f"{round(value * 1e3, 7):.10g} mm"
