"""A case written as a file's content, and read again: the same."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from rigs.live import EVERY
from stringflux.cases.files.changed import toml_text
from stringflux.cases.files.load import built_in_uses, load_case
from stringflux.geometry.case.keys import Quantity
from stringflux.geometry.case.strings import String
from stringflux.geometry.reading.read import changed_case, read_case
from stringflux.geometry.reading.written import marked, written_case


@pytest.mark.parametrize("path", EVERY, ids=lambda p: p.stem)
def test_every_case_comes_back(path: Path) -> None:
    case = load_case(path)
    content = tomllib.loads(toml_text(written_case(case)))
    again = read_case(content, materials=built_in_uses())
    assert again == case
    assert again.model_dump(exclude_unset=True) == case.model_dump(exclude_unset=True)


def test_a_changed_value_comes_back_to_fifteen_digits() -> None:
    third = 8.1e-3 / 3.7
    case = changed_case(load_case("bench-single"), {"string.1.gap": third}, materials=built_in_uses())
    assert read_case(written_case(case), materials=built_in_uses()).string[0].gap == pytest.approx(third, rel=1e-15)


def test_people_read_millimetres() -> None:
    assert written_case(load_case("bench-single"))["strings"]["gap"] == "2.5 mm"


def test_marks() -> None:
    fields = String.model_fields
    assert marked(fields["gap"], Quantity).kind == "length"  # within "or None"
    assert marked(fields["steel"], Quantity) is None
