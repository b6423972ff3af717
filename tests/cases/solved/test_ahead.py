"""What a prediction asks for at its end, begun on another core while its strings are computed."""

from __future__ import annotations

import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.solved.row_case import RowCase

NAME = "baritone-six"


@pytest.mark.slow
@pytest.mark.usefixtures("two_cores")
def test_what_a_copy_finds_of_a_row_is_what_is_found_here() -> None:
    here, there = (solve(load_case(NAME), quality="draft") for _ in range(2))
    ends, found = here.solved.signal_ends(), there.prediction(maps=False)
    assert isinstance(there.solved, RowCase)
    assert there.solved._begun is not None
    assert found.notes == here.prediction(maps=False).notes
    assert len(ends) == 2
    for one, other in zip(ends, there.solved.signal_ends(), strict=True):
        assert one.inductance == other.inductance


@pytest.mark.usefixtures("two_cores")
def test_nothing_is_begun_that_is_there() -> None:
    pickup = solve(load_case(NAME), quality="draft")
    pickup.solved.signal_ends()
    pickup.solved.ahead()
    assert isinstance(pickup.solved, RowCase)
    assert pickup.solved._begun is None
