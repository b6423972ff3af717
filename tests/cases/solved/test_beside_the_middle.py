"""A blade that does not stand at x = 0: the same pickup moved along the strings hears the same."""

from __future__ import annotations

from typing import Any

import pytest

from stringflux.cases import solve
from stringflux.cases.files.load import built_in_uses, find_case, read_toml
from stringflux.geometry.reading.read import read_case
from stringflux.postprocess.records.prediction import StringRecord

ALIKE = 3e-3  # at draft: the moved mesh is not halved at x = 0, and S is off by 1.7 % where the two sides do not mix


def heard(moved: float) -> StringRecord:
    """The thickest string over a blade half as long as the shipped one, all but the string moved by so many mm."""
    data: dict[str, Any] = read_toml(find_case("blade-six"))
    data["string"] = data["string"][:1]
    data["coil"]["inner_length"] = "34 mm"
    for body, across in zip(data["body"], ("30 mm", "32 mm"), strict=True):
        body["across"] = across
        body["centre"] = [f"{moved} mm", "0 mm"]
    data["coil"]["x"] = f"{moved} mm"
    data["strings"]["bridge_distance"] = f"{60 + moved} mm"
    case = read_case(data, materials=built_in_uses())
    return solve(case, quality="draft").prediction(maps=False).strings[0]


@pytest.mark.slow
def test_a_pickup_moved_along_the_strings_hears_the_same() -> None:
    here, there = heard(0.0), heard(2.0)
    assert there.linkage == pytest.approx(here.linkage, rel=ALIKE)
    assert there.sensitivity == pytest.approx(here.sensitivity, rel=ALIKE)
