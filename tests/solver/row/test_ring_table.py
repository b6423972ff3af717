"""A pole's rings on their table: what is fitted for one excitation does not hang on the others."""

from __future__ import annotations

import numpy as np

from stringflux.solver.row.ring_table import PoleField, field_table
from stringflux.solver.row.rings import Rings

RADIUS = 2.4e-3
POINTS = np.array([[0.0, 1e-3, 4e-3], [0.0, 2e-3, -3e-3], [2.2e-3, 2.5e-3, 3e-3]])


def test_another_last_excitation_keeps_what_the_others_fitted() -> None:
    rings = Rings(r=np.array([0.8e-3, 1.6e-3, 2.4e-3]), z=np.array([0.0, 0.0, -0.5e-3]),
                  spread=())
    table = field_table(rings, RADIUS, 2e-3, 4e-3, 10e-3, 2)
    rng = np.random.default_rng(3)
    charges, other = rng.uniform(-1.0, 1.0, (2, 2, 3)), rng.uniform(-1.0, 1.0, (2, 3))
    known, anew = PoleField(table, charges), PoleField(table, np.stack([charges[0], other]))
    changed = known.but_last(table, other)
    np.testing.assert_array_equal(changed(*POINTS)[0], known(*POINTS)[0])
    np.testing.assert_allclose(changed(*POINTS), anew(*POINTS), rtol=1e-12)
    assert not np.allclose(changed(*POINTS)[1], known(*POINTS)[1], rtol=1e-3)
