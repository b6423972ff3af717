"""Field lines about a magnet: along B, with the same flux between them."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.fields.falling import MATERIALS, rod
from stringflux.postprocess.falling.lines import COUNT, field_lines
from stringflux.solver.falling.magnet import magnet_in_air


@pytest.mark.parametrize("polarity", [1, -1])
def test_lines_run_up_through_a_magnet_with_north_up(polarity: int) -> None:
    magnet = magnet_in_air(rod("ndfeb-38", 10e-3, 20e-3, polarity=polarity), MATERIALS)
    lines = field_lines(magnet.section, magnet.state, 40e-3)
    assert len(lines) >= 2 * COUNT
    inside = 0
    for u, z in lines:
        at = np.flatnonzero((np.abs(u) < 4.5e-3) & (np.abs(z) < 7e-3))
        for k in at[(at > 0) & (at < u.size - 1)]:
            inside += 1
            assert (z[k + 1] - z[k - 1]) * polarity > 0
    assert inside > 50
    assert all(np.hypot(u, z).max() < 40e-3 for u, z in lines)


def test_lines_stand_for_like_fluxes() -> None:
    """In the middle plane of a long uniform magnet B is even: their radii go as the root of odd numbers."""
    magnet = magnet_in_air(rod("rigid", 4e-3, 60e-3), MATERIALS)
    lines = field_lines(magnet.section, magnet.state, 0.2)
    inside = (side[:, (side[0] > 0) & (side[0] < 2.1e-3) & (np.abs(side[1]) < 15e-3)] for side in lines)
    radii = sorted(float(np.interp(0.0, line[1], line[0])) for line in inside if line.shape[1] > 3)
    wanted = 2e-3 * np.sqrt((np.arange(COUNT) + 0.5) / COUNT)
    np.testing.assert_allclose(radii[:COUNT - 1], wanted[:COUNT - 1], rtol=0.02)
