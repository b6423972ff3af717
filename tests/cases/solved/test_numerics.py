"""Numerical settings: the shipped ones keep their own rules, others are refused in one sentence."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import pytest

from stringflux.cases.jobs.verify_meshes import LEVELS, VerifyNumerics
from stringflux.cases.jobs.verify_meshes import SHIPPED as VERIFY
from stringflux.cases.solved.numerics import SHIPPED, Numerics
from stringflux.cases.studies.shape.numerics import SHIPPED as SEARCH
from stringflux.cases.studies.shape.numerics import SearchNumerics
from stringflux.geometry.errors import InputError

RECORDS: tuple[Any, ...] = (SHIPPED, SHIPPED.row, SHIPPED.string, SHIPPED.eddies, SEARCH, VERIFY)
PARTS = {"mesh", "solid", "row", "string", "eddies"}  # of Numerics: records of their own


@pytest.mark.parametrize(("record", "name"), [
    (record, f.name) for record in RECORDS for f in fields(record)
    if not (isinstance(record, Numerics) and f.name in PARTS)],
    ids=lambda v: v if isinstance(v, str) else type(v).__name__)
@pytest.mark.parametrize("value", [0, -1.0, float("nan"), "3", (3.0, 2.0), True])
def test_every_setting_refuses_what_it_cannot_be(record: Any, name: str, value: object) -> None:
    with pytest.raises(InputError, match=rf"^{type(record).__name__}, {name}: received .*; write ") as caught:
        replace(record, **{name: value})
    assert str(caught.value).count(". ") == 0


@pytest.mark.parametrize(("record", "changes", "said"), [
    (SHIPPED.row, {"angles": 7}, "write an even number from 6 on"),
    (SHIPPED.row, {"orders": 5}, "angles: received 8; write an even number from 10 on"),
    (SHIPPED.row, {"orders": 22}, "orders: received 22; write a whole number from 1 to 21"),
    (SHIPPED.row, {"close_orders": (13, 9)}, "the second at least the first"),
    (SHIPPED.row, {"table_growth": 1.0}, "write a number above 1"),
    (SHIPPED.string, {"passes": 0}, "passes: received 0; write a whole number from 1 on"),
    (SHIPPED.eddies, {"patterns": 2.5}, "write a whole number from 1 on"),
    (SHIPPED, {"frequencies": (20.0, 40e3)}, "up to 20000 Hz"),
    (SHIPPED, {"band": (1e3,)}, "2 or more numbers"),
    (SEARCH, {"degree": (13, 4)}, "places: received (13, 7); write two whole numbers above those of degree"),
    (VERIFY, {"levels": (1.0, 2.0)}, "levels: received (1.0, 2.0); write a tuple of 3 or more"),
])
def test_what_would_do_is_said(record: Any, changes: dict[str, object], said: str) -> None:
    with pytest.raises(InputError) as caught:
        replace(record, **changes)
    assert said in str(caught.value)


def test_what_is_shipped_keeps_its_rules() -> None:
    for record in RECORDS:
        assert type(record)() == record
    for levels in LEVELS.values():
        VerifyNumerics(levels=levels)
    assert SearchNumerics(places=(9, 5), degree=(8, 4)) != SEARCH  # as many shapes as coefficients are enough
