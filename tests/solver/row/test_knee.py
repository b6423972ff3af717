"""Alnico rods that neighbours bring to the knee of their curves, more on one side than on the other: the row against
stored 3-D solves at fine, whose potentials know nothing of orders (`tests/measure/knee.py` solves them)."""

from __future__ import annotations

import json

import numpy as np
import pytest

from measure.knee import ROWS, STORED, figures, misses, row_case
from stringflux.cases.solved.solve import solved_case

WITHIN = (0.005, 0.005, 0.005, 0.01)  # B₀, λ, S, pull; 0.43, 0.42, 0.34 and 0.84 % found
REFERENCES = json.loads(STORED.read_text())


@pytest.mark.slow
@pytest.mark.parametrize("name", ROWS)
def test_rods_at_the_knee_are_those_of_3d(name: str) -> None:
    """With their neighbours' order 1 answered on the recoil slope B₀ is 0.7 to 2 % off, the pull up to 4 %."""
    found = misses(figures(name, "row", "normal"), np.array(REFERENCES[name]["fine"]))
    assert np.all(np.array(found) < WITHIN), found


@pytest.mark.slow
@pytest.mark.parametrize("polarity", ["++--", "+-+-"])
@pytest.mark.parametrize("history", ["after", "before"])
def test_rods_that_nearly_touch_settle(polarity: str, history: str) -> None:
    """1.2 mm of air between neighbours of a steep curve with a sharp knee; 9 to 22 rounds found."""
    case = row_case("alnico-5-7", polarity, history, (-9.0, -3.0, 3.0, 9.0), (-9.0,))
    bias = solved_case(case, "draft").solution().bias
    assert 1 < bias.rounds < 30
