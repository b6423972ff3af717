"""What is asked of a study is refused where it is written, in one sentence that names the field."""

from __future__ import annotations

from typing import Any

import pytest

from stringflux.cases import BalanceRequest, CompareRequest, Making, ShapeRequest, ToleranceRequest
from stringflux.geometry.errors import CaseError


@pytest.mark.parametrize(("record", "fields", "said"), [
    (BalanceRequest, {"by": "hand"}, 'by: received "hand"; write tilt, poles, both'),
    (BalanceRequest, {"measure": "loudness"}, 'measure: received "loudness"; write output, sensitivity'),
    (BalanceRequest, {"pull": 0.0}, "pull: received 0; write a number of cents from 0.01 to 100"),
    (BalanceRequest, {"travel": 1.5}, "travel: received 1500 mm; write a length from 0.05 mm to 10 mm, in m"),
    (BalanceRequest, {"least_gap": 0.5e-3}, "least_gap: received 0.5 mm; write a length from 0.6 mm to 10 mm, in m"),
    (CompareRequest, {"vary": {}, "combine": "all"}, 'combine: received "all"; write grid, paired, sample'),
    (CompareRequest, {"vary": {}, "rank": "output"}, "rank: received a text; write a tuple of names of figures"),
    (ShapeRequest, {"goals": ("beauty",)}, 'goals: received "beauty", which is no goal'),
    (ShapeRequest, {"goals": ("output", "output")}, 'goals: received "output,output"; write one goal, or two'),
    (ShapeRequest, {"goals": ()}, 'goals: received ""; write one goal'),
    (ShapeRequest, {"front": 2}, "front: received 2; write 3 to 25 points"),
    (Making, {"step": 0.0}, "step: received 0 m; write a length above 0"),
    (Making, {"deepest": 2.0}, "deepest: received 2 m; write 0 to 0.02 m"),
    (Making, {"least_volume": 2e-7, "most_volume": 1e-7}, "least_volume: received 2e-07 m³; write 0 or more"),
    (ToleranceRequest, {"check": 2}, "check: received 2; write a whole number from 4 to 4096"),
    (ToleranceRequest, {"limits": "balance<1 dB"}, 'limits: received "balance<1 dB"; write a tuple of such limits'),
])
def test_a_field_that_cannot_be(record: Any, fields: dict[str, Any], said: str) -> None:
    with pytest.raises(CaseError) as error:
        record(**fields)
    assert str(error.value).startswith(said)
