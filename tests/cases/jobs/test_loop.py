"""A pickup's string round its loop."""

from __future__ import annotations

import pytest

from stringflux.cases import load_case, solve
from stringflux.geometry.errors import CaseError


def test_a_wound_string_of_six() -> None:
    """Over all it has the room for, which asks most of Newton's method; S grows with the amplitude."""
    pickup = solve(load_case("baritone-six"), quality="draft")
    light, hard = pickup.loop(1), pickup.loop(1, 1.2e-3)
    assert 0 < light.sensitivity < hard.sensitivity
    assert light.amplitude == 1e-4
    assert pickup.loop(1) is light
    with pytest.raises(CaseError, match="from 1 to 6"):
        pickup.loop(7)
