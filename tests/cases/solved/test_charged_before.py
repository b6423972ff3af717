"""Magnets charged one by one before assembly: the 3-D solver against the row of poles, which does it otherwise."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from stringflux.cases.files.load import built_in_uses
from stringflux.cases.solved.solve import solved_case
from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.reading.read import read_case
from stringflux.solver.solid.solve import SolvedSolid

HEIGHT = 1.5e-3  # over the faces, m
BETWEEN_SOLVERS = 0.005  # of the field over a pole; 0.3 % found, on draft meshes 1 %
CHANGE = 0.003  # of the field; 0.0015 found, on draft meshes 0.0033


def case(history: str, *, turned: bool) -> Case:
    """Three alnico rods 7 mm apart; with `turned` the middle one's south end is up."""
    def pole(at: list[int], polarity: str) -> dict[str, Any]:
        return {"at": at, "part": [{"material": "alnico-5", "diameter": "4.8 mm", "length": "14 mm",
                                    "polarity": polarity}]}

    return read_case({
        "row": {"positions": ["-7 mm", "0 mm", "7 mm"], "face": ["1 mm", "1 mm", "1 mm"],
                "charged": f"{history} assembly"},
        "pole": [pole([1, 3], "north up"), pole([2], "south up" if turned else "north up")],
        "coil": {"inner_width": "6 mm", "inner_length": "20 mm", "build": "4 mm", "bottom": "-10 mm", "top": "-1 mm",
                 "turns": 5000, "wire": "42 AWG"},
        "strings": {"scale": "648 mm", "gap": "2.5 mm"},
        "string": [{"gauge": "0.017 in", "pitch": "G3", "position": "0 mm"}],
    }, materials=built_in_uses())


@cache
def face_field(history: str, solver: str, *, turned: bool = True, quality: str = "normal") -> Array:
    made = case(history, turned=turned)
    solved = solved_case(made, quality, solver=solver).solution()
    assert isinstance(solved, SolvedSolid) == (solver == "solid")
    return np.abs(solved.face_field(HEIGHT))


@pytest.mark.slow
@pytest.mark.parametrize("history", ["before", "after"])
def test_alternating_rods_are_those_of_the_row(history: str) -> None:
    assert face_field(history, "solid") == pytest.approx(face_field(history, "row"), rel=BETWEEN_SOLVERS)


@pytest.mark.slow
def test_what_it_changes_is_what_it_changes_in_the_row() -> None:
    """Neighbours the other way up help each other; magnets that were alone first climb a recoil line only."""
    change = {s: face_field("before", s) / face_field("after", s) - 1 for s in ("solid", "row")}
    assert np.all(change["row"] < -0.01)
    assert change["solid"] == pytest.approx(change["row"], abs=CHANGE)


def test_neighbours_that_demagnetise_leave_no_trace_of_it() -> None:
    """All north up: every rod comes down further in the row than it was alone, and both end on the curve itself."""
    before, after = (face_field(h, "solid", turned=False, quality="draft") for h in ("before", "after"))
    assert before == pytest.approx(after, rel=3e-3)
