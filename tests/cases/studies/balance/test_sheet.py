"""The setting sheet says every move once, with its way, and every string to check by."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest

from rigs.cases.balance_formula import solved
from rigs.cases.small_case import document as small
from stringflux.cases.files.load import find_case, read_toml
from stringflux.cases.studies.balance.problem import BalanceRequest
from stringflux.cases.studies.balance.sheet import setting_sheet
from stringflux.cases.studies.balance.words import how_read
from stringflux.geometry.case.threads import turn_words


def threaded() -> dict[str, Any]:
    """Poles that are steel screws in a plain row, and screws of the whole pickup."""
    document = small()
    document["pole"] = [{"part": [{"material": "steel-1008", "diameter": "5 mm", "length": "9 mm",
                                   "thread": "0.5 mm"},
                                  {"material": "ceramic-8", "diameter": "5 mm", "length": "4 mm",
                                   "polarity": "north up"}]}]
    return {**document, "height_screws": {"thread": "40 per inch", "apart": "30 mm", "clockwise": "raises"}}


@pytest.mark.parametrize("by", ["poles", "tilt", "both"])
def test_screws_are_set_in_eighths_of_a_turn(by: str) -> None:
    found = solved(threaded(), [1.3, 0.0], BalanceRequest(by=by))
    assert found.problem.unknowns[0].start == (0.0 if by != "poles" else 1.5e-3)
    page, words = setting_sheet(found, "small"), how_read(found)
    assert max(map(abs, found.movement)) > 1e-4
    for unknown, movement, turns in zip(found.unknowns, found.movement, found.turns, strict=True):
        assert unknown.screw is not None
        assert turns is not None
        pitch, way = (0.5e-3, -1) if unknown.kind == "pole" else (25.4e-3 / 40, 1)
        assert turns == pytest.approx(way * movement / pitch)
        assert 8 * turns == pytest.approx(round(8 * turns), abs=1e-9)
        if abs(movement) > 1e-9:
            assert f">{turn_words(turns)}</td>" in page
    if by != "tilt":
        assert "Clockwise, seen from the strings, takes a pole down, from the strings." in words
    if by != "poles":
        assert "Clockwise, seen from the strings, takes a side of the pickup up, to the strings." in words
    # what is promised of a quarter turn is what the pickup then does
    for j, quarter in enumerate(found.quarter_turn):
        assert quarter is not None
        x, step = np.zeros(len(found.unknowns)), found.unknowns[j].screw
        assert step is not None
        x[j] = step.quarter
        change = found.model.levels(found.movement + x) - found.model.levels(found.movement)
        assert quarter == pytest.approx(change[np.argmax(np.abs(change))], abs=0.01)


@pytest.mark.parametrize("by", ["poles", "tilt", "both"])
def test_every_move_stands_there_as_it_is_set(by: str) -> None:
    found = solved(read_toml(find_case("bass-four")), [5.0, 0.0, 0.5, -6.0], BalanceRequest(by=by))
    page = setting_sheet(found, "bass-four")
    moved, checked = (re.findall(r"<tr><th scope=\"row\">(.*?)</tr>", t) for t in page.split("<tbody>")[1:])
    assert len(moved) == len(found.unknowns)
    for line, unknown, movement in zip(moved, found.unknowns, found.movement, strict=True):
        assert line.lower().startswith(unknown.name)
        way = "stays" if abs(movement) < 1e-9 else "up, to the strings" if movement > 0 else "down, from the strings"
        assert way in line
        if not unknown.told_by_movement:
            assert f"<td>{1e3 * unknown.start:.2f}</td><td>{1e3 * unknown.reading(movement):.2f}</td>" in line
        else:
            assert "<td>–</td><td>–</td>" in line
        assert "☐" in line
    assert [f"<td>{1e3 * g:.2f}</td>" in line for g, line in zip(found.gaps[1], checked, strict=True)] == [True] * 4
    assert "<script" not in page
    assert "default-src 'none'" in page
