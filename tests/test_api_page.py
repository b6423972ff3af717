"""docs/api.md lists all of the public interface, nothing that is not there, and its example runs."""

from __future__ import annotations

import ast
import re
from importlib import import_module
from pathlib import Path

import matplotlib.pyplot as plt
import pytest

from stringflux import cases
from stringflux.cases import Pickup

PAGE = Path(__file__).parents[1] / "docs" / "api.md"
TEXT = PAGE.read_text(encoding="utf-8")
METHODS = {name: value for kind in Pickup.__mro__[:-1] for name, value in vars(kind).items()}


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
    public = {name for name, value in METHODS.items() if not name.startswith("_") and callable(value)}
    assert named("Pickup") == public


def test_the_examples_run(capsys: pytest.CaptureFixture[str]) -> None:
    """Each block by itself, as whoever copies it has it."""
    blocks = re.findall(r"```python\n(.*?)```", TEXT, re.DOTALL)
    assert blocks
    try:
        for block in blocks:
            exec(compile(block, str(PAGE), "exec"), {})
    finally:
        plt.close("all")
    assert capsys.readouterr().out == ("2.50 mm, 49 mV per m/s\ndisplacement from rest, up positive (mm)\n"
                                       "gap of the strings (mm)\n")


def test_what_draws_itself_is_there() -> None:
    listed = set(re.findall(r"`(\w+)\(\)`", TEXT.split("\n## What draws itself\n")[1])) - {"figures"}
    assert listed <= {*METHODS, *cases.__all__}
    assert len(listed) == 21


@pytest.mark.parametrize("package", [
    "cases", "cases.studies.balance", "cases.studies.compare", "cases.studies.designs", "cases.studies.shape",
    "cases.studies.tolerance", "cases.studies.wishes", "postprocess.results"])
def test_a_package_hands_on_what_it_names(package: str) -> None:
    """Also to type checkers, which read what stands under TYPE_CHECKING."""
    module = import_module(f"stringflux.{package}")
    assert sorted(module._HOME) == sorted(module.__all__)
    read = ast.parse(Path(module.__file__ or "").read_text(encoding="utf-8"))
    checked = {alias.name for node in ast.walk(read) if isinstance(node, ast.ImportFrom) and node.module
               for alias in node.names} - {"annotations", "late", "TYPE_CHECKING"}
    assert checked == set(module.__all__)
    for name in module.__all__:
        assert getattr(module, name).__name__ == name
    with pytest.raises(AttributeError, match="has no attribute 'nought'"):
        _ = module.nought
