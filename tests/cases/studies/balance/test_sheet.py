"""The setting sheet says every move once, with its way, and every string to check by."""

from __future__ import annotations

import re

import pytest

from rigs.cases.balance_formula import solved
from stringflux.cases.files.load import find_case, read_toml
from stringflux.cases.studies.balance.problem import BalanceRequest
from stringflux.cases.studies.balance.sheet import setting_sheet


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
