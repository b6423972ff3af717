"""What a prediction says of a string, held to the fields it comes from."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.cases import load_case, solve

pytestmark = pytest.mark.usefixtures("shared_solutions")

ROUNDING = 1e-7  # of B₀ and of b: what sums over rings and triangles leave where both halves cancel; 2e-9 is seen


@pytest.mark.slow
@pytest.mark.parametrize("name", ["baritone-six", "stacked-six"])
def test_fields_at_a_string_are_those_of_its_place_along_x_y_and_z(name: str) -> None:
    """Strings at half a degree over what is its own mirror image about x = 0: nothing of B₀ and b lies along x there,
    though the part of them along the string is 0.9 %."""
    pickup = solve(load_case(name, {"strings.plane_angle": "0.5 deg"}), quality="draft")
    for string in pickup.prediction(maps=False).strings:
        at = np.array([0.0, string.y, string.height])
        assert string.line_bias[0, string.x == 0] > 8e-3 * string.bias[2]
        for found, field in ((string.bias, pickup.field(at)), (string.reciprocal, pickup.reciprocal(at))):
            assert abs(found[0]) < ROUNDING * abs(found[2])
            assert found == pytest.approx(field.values[:, 0], rel=ROUNDING, abs=ROUNDING * abs(found[2]))
