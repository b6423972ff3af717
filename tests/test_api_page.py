"""docs/api.md lists all of the public interface, nothing that is not there, and its examples run."""

from __future__ import annotations

import doctest
import re
from pathlib import Path

import matplotlib.pyplot as plt
import pytest

from stringflux import cases
from stringflux.cases import Pickup

PAGE = Path(__file__).parents[1] / "docs" / "api.md"
TEXT = PAGE.read_text(encoding="utf-8")


def named(heading: str) -> set[str]:
    """Names in the first column of the table under a heading, and those that its second column calls."""
    table = TEXT.split(f"\n## `{heading}`\n")[1].split("\n## ")[0]
    rows = [line for line in table.splitlines() if line.startswith("| `")]
    return {name for row in rows for name in re.findall(r"`(\w+)", row)} - {"normal"}


@pytest.mark.parametrize("name", cases.__all__)
def test_what_is_handed_on_is_there(name: str) -> None:
    assert getattr(cases, name).__doc__


def test_the_page_lists_what_is_handed_on() -> None:
    assert named("stringflux.cases") == set(cases.__all__)


def test_the_page_lists_what_a_pickup_can() -> None:
    public = {name for name, value in vars(Pickup).items() if not name.startswith("_") and callable(value)}
    assert named("Pickup") == public


def test_the_examples_run() -> None:
    try:
        assert doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8").failed == 0
    finally:
        plt.close("all")
