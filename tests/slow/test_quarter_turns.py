"""A quarter of a turn in a build, held against predictions of the build as it is set then: each is a 3-D solution."""

from __future__ import annotations

import math

import pytest

from rigs.cases.small_build import document as build
from stringflux.cases import Pickup, solve
from stringflux.cases.files.load import built_in_uses
from stringflux.geometry import read_case

PRINTED = 0.006
"""Half of the last digit of the tables, and what their own two digits leave open, dB."""


def levels(pickup: Pickup) -> list[float]:
    return [20 * math.log10(s.sensitivity) for s in pickup.prediction(maps=False).strings]


def test_poles_and_screws_of_a_build_are_solved_where_they_are_set() -> None:
    document = build()
    document["pole"] = [{"at": [1], **document["pole"][0]},
                        {"part": [{"material": "steel-1008", "diameter": "4.8 mm", "length": "12 mm",
                                   "thread": "0.5 mm"}]}]
    document["row"] = {**document["row"], "face": ["1.5 mm", "1 mm"]}
    document["body"] = [*document["body"], {
        "shape": "cylinder", "name": "beside", "material": "steel-1008", "diameter": "4 mm", "length": "12 mm",
        "centre": ["9 mm", "-5 mm"], "top": "1.5 mm", "thread": "0.5 mm"}]
    pickup = solve(read_case(document, materials=built_in_uses()), quality="draft")
    pole, screw = pickup.quarter_turns()
    assert [pole.kind, screw.kind] == ["pole", "body"]
    assert (pole.strings, screw.name, screw.strings) == ((2,), "beside", (1,))
    for turn, changes in ((pole, {"row.face": [1.5e-3, 1.125e-3], "string.2.gap": 2.375e-3}),
                          (screw, {"body.2.top": 1.625e-3})):
        i = turn.strings[0] - 1
        assert turn.change[0] == pytest.approx(levels(pickup.with_(changes))[i] - levels(pickup)[i], abs=PRINTED)
        assert abs(turn.change[0]) > PRINTED
