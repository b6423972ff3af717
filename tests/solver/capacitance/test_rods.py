"""Rods of a row as one slab: the wire between plates, rods that nearly touch the walls, and the slab's own sum."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.solver.capacitance.cell import EPSILON_0
from stringflux.solver.capacitance.rods import rod_to_walls, slab_for_rods


@pytest.mark.parametrize("radius", [0.01e-3, 0.05e-3, 0.2e-3])
def test_a_wire_midway_between_plates(radius: float) -> None:
    found = rod_to_walls(radius=radius, wall=2.5e-3, spacing=40e-3, angles=60, rings=20)
    assert found == pytest.approx(2 * np.pi * EPSILON_0 / np.log(4 * 2.5e-3 / (np.pi * radius)), rel=1e-3)


def test_rods_that_nearly_touch_the_walls() -> None:
    """Close by, a cylinder and a plane: with gap g the rest stays finite while π √(2R/g) grows on either side."""
    def c(gap: float) -> float:
        return rod_to_walls(radius=2e-3, wall=2e-3 + gap, spacing=10e-3, angles=200, rings=6) / EPSILON_0
    narrow, wide = 0.02e-3, 0.08e-3
    grown = 2 * np.pi * np.sqrt(2 * 2e-3) * (narrow**-0.5 - wide**-0.5)
    assert c(narrow) - c(wide) == pytest.approx(grown, rel=0.02)  # the next term of the gap's series


def test_the_shipped_mesh() -> None:
    rod = {"radius": 2.4e-3, "wall": 2.5e-3, "spacing": 10.4e-3}
    assert rod_to_walls(**rod) == pytest.approx(rod_to_walls(**rod, angles=96, rings=24), rel=5e-3)


def test_one_rod_in_a_round_coil_is_itself() -> None:
    assert slab_for_rods(radius=2.4e-3, wall=3e-3, spacing=1.0, count=1, straight=0.0) == pytest.approx(2.4e-3)


def test_a_slab_lies_inside_its_rods() -> None:
    few, many = (slab_for_rods(radius=2.4e-3, wall=2.5e-3, spacing=p, count=n, straight=52e-3)
                 for p, n in ((52e-3, 2), (5.2e-3, 11)))
    assert few < many < 2.4e-3


def test_rods_that_do_not_fit() -> None:
    with pytest.raises(ValueError, match="0 < radius < wall"):
        slab_for_rods(radius=2.6e-3, wall=2.5e-3, spacing=10e-3, count=6, straight=52e-3)
