"""A case with its strings and poles at other heights (:mod:`stringflux.geometry.reading.moved`)."""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from typing import Any

from stringflux.geometry.case.model import Case
from stringflux.geometry.case.rows import PoleRow
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.changes import change_value
from stringflux.geometry.reading.moved import setting_changes
from stringflux.geometry.reading.read import read_case

from ...files.load import built_in_uses


def changed_content(data: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """The file's content with the changes in it; `data` stays as it is."""
    content = copy.deepcopy(dict(data))
    for dotted, value in changes.items():
        change_value(content, dotted, value)
    return content


def moved_case(data: Mapping[str, Any], case: Case, faces: Sequence[float], lows: Sequence[float],
               row: PoleRow | None = None) -> Case:
    """The case at another setting.

    Raises
    ------
    CaseError
        When that is no possible case.
    """
    try:
        return read_case(changed_content(data, setting_changes(case, faces, lows, row)), materials=built_in_uses())
    except CaseError as error:
        raise CaseError(f"the setting makes no possible case: {error}") from None
