"""How far over and under the strings the fields of a case have to be known for readings at other gaps."""

from __future__ import annotations

from collections.abc import Sequence

from stringflux.geometry.case.model import Case
from stringflux.postprocess.readings.reading import Reading
from stringflux.postprocess.readings.row_model import gap_range

_MAP_REACH = 2e-3  # how far the fields of a case go under and over its strings, m


def reaching(case: Case, readings: Sequence[Reading]) -> tuple[Case, float]:
    """The case with its strings so that the tables of the fields cover the readings' gaps, and how much higher."""
    gaps: dict[int, list[float]] = {}
    for r in readings:
        if r.quantity == "output":
            gaps.setdefault(r.string or 1, []).append(r.gap or 0.0)
    strings, above = list(case.string), 0.0
    for number, all_gaps in gaps.items():
        low, high = gap_range(all_gaps)
        middle = low + _MAP_REACH
        strings[number - 1] = strings[number - 1].model_copy(
            update={"gap": middle, "height": None, "fretted_gap": None})
        above = max(above, high + 0.1e-3 - middle - _MAP_REACH)
    return case.model_copy(update={"string": tuple(strings)}), above
