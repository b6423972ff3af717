"""What hysteresis of poles does to a signal: too little to be told, by the largest constant that a material may have.

λ of a swing, spread over the turns, is the flux that the string's movement sends through a pole; S hangs on the
permeability of poles as μ^e. So S lags by e tan δ at most, and is e ν Ĥ/μ larger than for the smallest swings.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from rigs.source_tree import CLOSE_BASS
from stringflux.cases import load_case
from stringflux.cases.solved.solve import solved_case
from stringflux.cases.studies.designs.design import Design
from stringflux.solver.constants import MU0
from stringflux.solver.materials import body_material, is_magnet, is_steel
from stringflux.solver.materials.rayleigh import lossiest

LIGHT, HARD = 0.1e-3, 1e-3
"""Swings, m: that of S, and as far as most strings can go."""


@cache
def of_loudest(name: str) -> tuple[float, float, float]:
    """tan δ and ν Ĥ/μ of the pole under the first string at a light swing, and e."""
    case = load_case(name)
    solved = solved_case(case, "draft")
    place, string = case.placed_poles()[0], solved.strings[0]
    top = place.shape.parts[0]
    material = body_material(solved.materials, top.material)
    law, section = lossiest(material), np.pi * max(r for r, _ in top.outline) ** 2
    flux = abs(Design(solved).rests()[0].slope) * LIGHT / section  # of one turn
    field = flux / (MU0 * law.mu_initial)
    low, high = (material.mu_signal_range if is_magnet(material) else
                 material.mu_reversible_range if is_steel(material) else (1.0, 1.0))
    at = np.array([[0.0], [string.y], [string.shape.axis_height]])
    b = [abs(end.field.reciprocal(at)[2, 0]) for end in solved.signal_ends()]
    return float(law.loss_tangent(field)), law.constant * field / law.mu_initial, float(
        np.log(b[1] / b[0]) / np.log(high / low))


@pytest.mark.slow
@pytest.mark.parametrize(("name", "tangent", "exponent"), [
    ("baritone-six", 2.7e-4, 0.41), (CLOSE_BASS, 0.0125, 0.075),
])
def test_a_light_swing_loses_next_to_nothing(name: str, tangent: float, exponent: float) -> None:
    """The two with the loudest string over alnico and over steel."""
    found, rise, e = of_loudest(name)
    assert found == pytest.approx(tangent, rel=0.15)
    assert e == pytest.approx(exponent, rel=0.15)
    assert e * found < 1.1e-3  # rad; λ lags by 0.004 to 0.04 for the string's own steel
    assert e * rise < 2.5e-3  # of S


@pytest.mark.slow
def test_a_hard_swing_loses_little() -> None:
    for name in ("baritone-six", CLOSE_BASS):
        tangent, rise, e = of_loudest(name)
        assert e * tangent * HARD / LIGHT < 0.011  # rad
        assert e * rise * HARD / LIGHT < 0.025  # of S
