"""Eddy currents take what is made of pieces for the plain form about it."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.cases.forms import form, points
from stringflux.geometry.shapes.bodies import Box, Cylinder, plain
from stringflux.solver.eddy.effective_mu import effective_mu, long_axis
from stringflux.solver.eddy.sheet_mesh import is_sheet, sheet_mesh

HZ = np.array([1e2, 1e4])


def test_a_bar_and_a_rod() -> None:
    """The same as the box and the cylinder that they are."""
    prism = form("prism", outline=points((-1.5, -10), (1.5, -10), (1.5, 10), (-1.5, 10)), length=8)
    box = form("box", along=3, across=20, height=8)
    turned = form("revolved", outline=points((0, 0), (2, 0), (2, 15), (0, 15)), lies="along the strings")
    rod = form("cylinder", diameter=4, length=15, lies="along the strings")
    assert (plain(prism), plain(box)) == (box, box)
    seen = plain(turned)
    assert isinstance(seen, Cylinder)
    assert isinstance(rod, Cylinder)
    assert (seen.along, seen.length, seen.radius) == (0, pytest.approx(15e-3), pytest.approx(2e-3))
    for made, same in ((prism, box), (turned, rod)):
        assert long_axis(made) == long_axis(same)
        assert effective_mu(made, 200.0, 1.6e-7, HZ) == pytest.approx(effective_mu(same, 200.0, 1.6e-7, HZ))


def test_a_plate_with_holes_is_a_sheet() -> None:
    """Its currents are those of the plate without them."""
    plate = form("plate", along=14, across=40, height=1, corner=2,
                 screw_holes=[{"at": ["0 mm", "0 mm"], "diameter": "4 mm"}])
    assert is_sheet(plate)
    whole = Box(low=(-7e-3, -20e-3, 0.0), high=(7e-3, 20e-3, 1e-3))
    assert sheet_mesh([plate]).points == pytest.approx(sheet_mesh([whole]).points)
    assert not is_sheet(form("screw", head_diameter=6, head_height=2, diameter=3, length=12))
