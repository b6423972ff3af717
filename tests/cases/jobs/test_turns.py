"""A quarter of a turn, held against predictions of the pickup as it is set then."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from typing import Any

import pytest
from rich.console import Console

from rigs.cases.small_case import document as small
from stringflux.cases import Pickup, solve
from stringflux.cases.files.load import built_in_uses
from stringflux.cases.output.results import screws_csv
from stringflux.cases.terminal.turns import print_turns
from stringflux.geometry import read_case

PRINTED = 0.006
"""Half of the last digit of the tables, and what their own two digits leave open, dB."""
SCREWS = {"thread": "40 per inch", "apart": "30 mm", "clockwise": "raises"}


def _pickup(document: dict[str, Any], **more: Any) -> Pickup:
    return solve(read_case(document | more, materials=built_in_uses()), quality="draft")


@pytest.fixture(scope="module")
def pickup() -> Pickup:
    document = small()
    document["pole"][1]["part"][0]["thread"] = "0.5 mm"
    return _pickup(document, height_screws=SCREWS)


def _levels(pickup: Pickup) -> list[float]:
    return [20 * math.log10(s.sensitivity) for s in pickup.prediction(maps=False).strings]


def test_a_pole_turned_by_a_quarter_is_the_prediction_with_the_pole_moved(pickup: Pickup) -> None:
    (turn,) = (t for t in pickup.quarter_turns() if t.pole)
    assert (turn.name, turn.pole, turn.pitch, turn.clockwise, turn.strings) == ("pole 2", 2, 0.5e-3, -1, (2,))
    assert turn.movement == pytest.approx(0.125e-3)
    # the string stays where it is
    moved = pickup.with_({"row.face": [1.5e-3, 1.125e-3], "string.2.gap": 2.375e-3})
    assert moved.solved.strings[1].underside == pytest.approx(pickup.solved.strings[1].underside, abs=1e-9)
    change = _levels(moved)[1] - _levels(pickup)[1]
    assert change > 0.2
    assert turn.change[0] == pytest.approx(change, abs=PRINTED)


def test_a_height_screw_turned_by_a_quarter_is_the_prediction_with_other_gaps(pickup: Pickup) -> None:
    sides = [t for t in pickup.quarter_turns() if not t.pole]
    assert [t.name for t in sides] == ["bass side", "treble side"]
    before = _levels(pickup)
    for side, at in zip(sides, (-1, 1), strict=True):
        assert side.movement == pytest.approx(25.4e-3 / 40 / 4)
        assert side.clockwise == 1
        # strings at ± 5 mm, screws at ± 15 mm: the near string comes two thirds of the way, the far one a third
        by = [side.movement * (15 + at * y) / 30 for y in (-5, 5)]
        moved = pickup.with_({f"string.{i}.gap": 2.5e-3 - b for i, b in enumerate(by, start=1)})
        changes = [a - b for a, b in zip(_levels(moved), before, strict=True)]
        assert side.change == pytest.approx(changes, abs=PRINTED)
        assert min(side.change) > 0.1


@pytest.mark.slow
def test_what_cannot_come_up_is_told_of_going_down() -> None:
    document = small()
    document["pole"][1]["part"][0]["thread"] = "0.5 mm"
    document["string"][1]["gap"] = "0.3 mm"
    (turn,) = _pickup(document).quarter_turns()
    assert turn.movement == pytest.approx(-0.125e-3)
    assert turn.change[0] < 0


def test_every_string_of_a_screw_is_a_line_and_a_number_in_the_tables(pickup: Pickup) -> None:
    turns = pickup.quarter_turns()
    told = replace(pickup.prediction(maps=False), quarter_turns=turns)
    head, *lines = screws_csv(told).splitlines()
    assert head == "screw,pitch mm,clockwise,quarter turn mm,string,change dB"
    assert [line.split(",")[:3] for line in lines] == [
        ["pole 2", "0.5", "down"], *[["bass side", "0.635", "up"]] * 2, *[["treble side", "0.635", "up"]] * 2]
    out = io.StringIO()
    print_turns(told, Console(file=out, width=100))
    said = out.getvalue()
    assert f"{turns[0].change[0]:+.2f}" in said
    assert "takes it down, from the strings. It moves with all its parts" in " ".join(said.split())
    assert "takes that side of the pickup up, to the strings" in said


def test_without_threads_there_is_nothing_to_tell() -> None:
    assert _pickup(small()).quarter_turns() == ()
