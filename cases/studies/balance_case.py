"""A case with its strings and poles at other heights: what changes in the file, and the case it makes.

Heights are over the bobbin's top plate. A pole moves as a whole, with all its parts. A string that the file
places by a gap to its pole's face gets another gap when that pole moves, so that the string stays where it is.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from typing import Any

from stringflux.geometry.case import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading import read_case

from ..load import built_in_uses, change_value

MOVED = 1e-9
"""Less than this is no movement, m."""


def setting_changes(case: Case, faces: Sequence[float], lows: Sequence[float]) -> dict[str, Any]:
    """What the file has to say otherwise, by dotted path.

    Parameters
    ----------
    case : Case
        As it is.
    faces : sequence of float
        Wanted height of every pole's face, m; of a case that is no single row of poles they all stay.
    lows : sequence of float
        Wanted height of every string's underside, m.

    Returns
    -------
    dict
        ``{"row.face": [...], "string.2.gap": "2.35 mm"}``; empty where all stays as it is.
    """
    changes: dict[str, Any] = {}
    risen = [0.0] * len(case.string)
    if case.is_plain_row:
        if any(abs(a - b) > MOVED for a, b in zip(faces, case.row.faces(), strict=True)):
            changes["row.face"] = [_mm(f) for f in faces]
        risen = [faces[pole] - case.row.faces()[pole] for pole in case.nearest_poles()]
    before = zip(case.undersides(), risen, strict=True)
    for number, ((low, up), string) in enumerate(zip(before, case.string, strict=True), start=1):
        own = string if string.rules() else case.strings
        rule = own.rules()[0]
        new = lows[number - 1]
        if rule == "height":  # with a fingerboard's radius the common height is that of the highest string only
            if abs(new - low) > MOVED:
                changes[f"string.{number}.height"] = _mm(new)
            continue
        wider = new - low - up
        if abs(wider) > MOVED:
            changes[f"string.{number}.{rule}"] = _mm(float(getattr(own, rule)) + wider)
    return changes


def changed_content(data: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """The file's content with the changes in it; `data` stays as it is."""
    content = copy.deepcopy(dict(data))
    for dotted, value in changes.items():
        change_value(content, dotted, value)
    return content


def moved_case(data: Mapping[str, Any], case: Case, faces: Sequence[float], lows: Sequence[float]) -> Case:
    """The case at another setting.

    Raises
    ------
    CaseError
        When that is no possible case.
    """
    try:
        return read_case(changed_content(data, setting_changes(case, faces, lows)), materials=built_in_uses())
    except CaseError as error:
        raise CaseError(f"the setting makes no possible case: {error}") from None


def _mm(value: float) -> str:
    # a tenth of a micrometre: far below what can be set, and finer than any of the differences that are used
    return f"{round(value * 1e3, 7):.10g} mm"
