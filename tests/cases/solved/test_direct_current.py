"""A direct current in the coil of a case: how it is read, what it warms, which commands know it."""

from __future__ import annotations

from typing import Any

import pytest

from stringflux.cases import load_case, solve
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.check_sense import warmed

CURRENT = {"coil.direct_current": "10 mA"}


def bench(changes: dict[str, Any] | None = None) -> Case:
    return load_case("bench-single", {**CURRENT, **(changes or {})})


def test_of_a_row_it_goes_to_3d_and_says_so() -> None:
    case = bench()
    assert case.is_magnetised
    assert solve(case, quality="draft").solver == "solid"
    for solver, words in (("row", "this case has a direct current in a coil"), ("plane", "takes long bars")):
        with pytest.raises(CaseError, match=words):
            solve(case, solver=solver)


def test_none_at_all_is_none() -> None:
    case = bench({"coil.direct_current": "0 mA"})
    assert not case.has_direct_current
    assert solve(case, quality="draft").solver == "row"


@pytest.mark.parametrize(("value", "words"), [
    (0.01, "coil, direct_current: received the bare number 0.01; write a current with its unit"),
    ("10 mT", "direct_current"),
    ("200 A", "write a current from -100 A to 100 A"),
])
def test_what_is_no_current(value: Any, words: str) -> None:
    with pytest.raises(CaseError, match=words):
        bench({"coil.direct_current": value})


def test_what_it_warms() -> None:
    assert not warmed(load_case("bench-single"))
    assert not warmed(bench({"coil.direct_current": "1 mA"}))
    (said,) = warmed(bench({"coil.resistance": "1 kohm", "coil.direct_current": "-20 mA"}))
    assert "-0.02 A through about 1 kohm makes 0.4 W of heat" in said


@pytest.mark.parametrize("command", [
    ["verify", "bench-single"], ["wind", "bench-single", "--for", "2 H"], ["readings", "bench-single",
                                                                           "bench-single-readings"],
    ["tolerance", "bench-single"], ["design", "bench-single", "--want", "S > 0.01 V s/m"],
])
def test_what_knows_none_says_so(command: list[str], capsys: pytest.CaptureFixture[str],
                                 tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from stringflux.cases.cli import main

    monkeypatch.chdir(tmp_path)
    assert main([*command, "--set", "coil.direct_current=10 mA"]) == 2
    assert "direct_current: " in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
