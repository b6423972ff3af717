"""What lies under the strings of a build: heights that tables have to reach over poles of two rows."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.fields.shapes import rod
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.standing import StandingPole
from stringflux.solver.row.numerics import SHIPPED
from stringflux.solver.row.pole import answer_orders
from stringflux.solver.row.ring_table import field_table
from stringflux.solver.row.rings import near_rings
from stringflux.solver.seam import Over
from stringflux.solver.section.space import section
from stringflux.solver.solid.under_strings import _as_near, _covers

POLE = rod()


@pytest.mark.parametrize("taller", [0.3e-3, 1.0e-3, 2.5e-3])
def test_a_taller_pole_of_another_row_has_a_table(taller: float) -> None:
    """Heights count from the lower row's faces: 0.3 mm over them lies on, or in, the taller poles of the other."""
    string = Over(y=0.0, face=1e-3, low=0.3e-3, high=5e-3)
    own, other = (StandingPole(x=x, y=0.0, face=face, bodies=(0,), shape=POLE)
                  for x, face in ((-9e-3, 1e-3), (9e-3, 1e-3 + taller)))
    (cover,) = _covers([string], [[own, other]], 60e-3).values()
    assert cover.low == pytest.approx(0.3e-3)
    assert cover.bottom <= 0.3e-3 - taller + 1e-9
    assert answer_orders(cover, 2.4e-3) == SHIPPED.answer_orders  # nothing comes close enough for more
    rings = near_rings(section(POLE, QUALITIES["draft"]), SHIPPED.answer_orders)
    table = field_table(rings, 2.4e-3, cover.low, cover.high, cover.reach, SHIPPED.answer_orders, cover.bottom)
    assert np.all(np.diff(table.z) > 0)
    assert np.all(np.isfinite(table.kernel))


def test_a_string_that_lies_lower_is_covered() -> None:
    string = Over(y=0.0, face=0.0, low=0.15e-3, high=5e-3)
    pole = StandingPole(x=0.0, y=0.0, face=0.0, bodies=(0,), shape=POLE)
    (cover,) = _covers([string], [[pole]], 60e-3).values()
    assert cover.low == pytest.approx(0.15e-3)


@pytest.mark.parametrize(("across", "top", "near"), [
    ((-30e-3, 30e-3), 1.0e-3, True),  # a blade as high as the pole, in another coil
    ((-30e-3, 30e-3), -13e-3, False),  # a bar under both
    ((6e-3, 10e-3), 1.0e-3, True),
    ((10e-3, 14e-3), 1.0e-3, False),  # aside
])
def test_what_comes_as_near_as_the_pole_answers_beside_it(across: tuple[float, float], top: float,
                                                          near: bool) -> None:
    """Over screws and a blade the screws' answer alone made S of six strings up to 2.9 % too small."""
    string = Over(y=0.0, face=1.6e-3, low=0.4e-3, high=4.4e-3)
    pole = StandingPole(x=9e-3, y=0.0, face=1.6e-3, bodies=(0,), shape=POLE)
    assert _as_near([((-11e-3, across[0], -15e-3), (-8e-3, across[1], top))], string, pole) == near
