"""A pickup's string round its loop."""

from __future__ import annotations

import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.files.load import built_in_uses, find_case, read_toml
from stringflux.geometry.errors import CaseError, InputError
from stringflux.geometry.reading.read import read_case

pytestmark = pytest.mark.usefixtures("shared_solutions")


def test_a_wound_string_of_six() -> None:
    """Over all it has the room for, which asks most of Newton's method; S grows with the amplitude."""
    pickup = solve(load_case("baritone-six"), quality="draft")
    light, hard = pickup.loop(1), pickup.loop(1, 1.2e-3)
    assert 0 < light.sensitivity < hard.sensitivity
    assert light.amplitude == 1e-4
    assert pickup.loop(1) is light
    with pytest.raises(InputError, match="received 7; there are 1 to 6"):
        pickup.loop(7)


def test_nothing_magnetised_is_a_sentence() -> None:
    content = read_toml(find_case("bench-single"))
    content["pole"][0]["part"][0]["charge"] = 0
    pickup = solve(read_case(content, materials=built_in_uses()), quality="draft")
    with pytest.raises(CaseError, match="nothing magnetises the strings"):
        pickup.loop(1)


def test_steel_on_one_curve_keeps_nothing() -> None:
    """Asked for steel without memory, a loop is a line, with the slope that the prediction has on the curve."""
    pickup = solve(load_case("bench-single", {"strings.state": "curve"}), quality="draft")
    loop, string = pickup.loop(1), pickup.prediction(maps=False).strings[0]
    assert loop.sensitivity == pytest.approx(string.sensitivity_curve, rel=2e-4)
    assert abs(loop.lag) < 1e-3
    assert abs(loop.heat) < 1e-3 * solve(load_case("bench-single"), quality="draft").loop(1).heat
