"""Strings moved in the page are those of the program: of a row of six in the normal quality, and of a build."""

from __future__ import annotations

from pathlib import Path

from rigs.moved_strings import DECIBEL, LINKAGE, moved
from rigs.small_builds import two_strings
from stringflux.cases import load_case, solve


def test_a_row_of_six() -> None:
    """40 designs of a wound string over its rod: its place, the turns, what hangs on the coil."""
    pickup = solve(load_case("baritone-six"))
    turns = [int(pickup.case.coil.turns), 5200, 8300]
    found = moved(pickup, 3, turns, places=20, loads=2)
    assert len(found.page) == 40
    assert found.linkage() < LINKAGE
    assert found.sensitivity() < DECIBEL
    assert found.levels() < DECIBEL


def test_a_build(tmp_path: Path) -> None:
    """A thick string near its steel, whose metal's memory changes S by a quarter; drafted, as a hand moves it."""
    pickup = solve(load_case(str(two_strings("blade-six", tmp_path))), quality="draft")
    found = moved(pickup, 1, [], places=14)
    assert found.linkage() < LINKAGE
    assert found.sensitivity() < DECIBEL
