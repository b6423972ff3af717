"""The table of what numerical settings cost can be made: it tries what there is, and all of it."""

from __future__ import annotations

from dataclasses import fields

import pytest

from measure.settings import SETTINGS, Setting
from stringflux.cases.solved.numerics import SHIPPED
from stringflux.postprocess.string.numerics import StringNumerics
from stringflux.solver.row.numerics import RowNumerics

ELSEWHERE = {"close_orders"}  # only strings close over a face: tests/postprocess/string/test_close_strings.py


@pytest.mark.parametrize("setting", SETTINGS, ids=lambda s: f"{s.name}: {s.values}")
def test_another_value_than_the_shipped_one_is_tried(setting: Setting) -> None:
    numerics, shipped, changed = setting.of("normal")
    assert numerics != SHIPPED
    assert shipped != changed


@pytest.mark.parametrize(("part", "record"), [("row", RowNumerics), ("string", StringNumerics)])
def test_every_setting_is_in_the_table(part: str, record: type) -> None:
    tried = {key for s in SETTINGS if s.part == part for key in s.values}
    assert tried | ELSEWHERE >= {f.name for f in fields(record)}
