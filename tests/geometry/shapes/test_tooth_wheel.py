"""The outline of a toothed wheel."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.wheels import wheel_build


def test_the_teeth_have_their_area_and_stand_over_the_face() -> None:
    """A trapezoid between two arcs each, found by the mean of its widths: 1 % off for teeth as short as these."""
    build = wheel_build(teeth=20, top=0.3, floor=0.5)
    w = build.wheel
    widths = (w.top * w.angle * w.radius, (1 - w.floor) * w.angle * w.root)
    teeth = w.teeth * w.height * sum(widths) / 2
    assert build.shape.parts[-1].area - np.pi * w.root**2 == pytest.approx(teeth, rel=0.02)
    x, z = np.array(w.outline(build.gap)).T
    assert z.min() == pytest.approx(build.gap, rel=1e-9)
    assert np.hypot(x, z - build.centre).max() == pytest.approx(w.radius, rel=1e-9)


def test_turned_the_tooth_over_the_face_moves_towards_x() -> None:
    build = wheel_build(teeth=20)
    before, after = (np.array(build.wheel.outline(build.gap, turned))[:7].mean(axis=0) for turned in (0.0, 0.05))
    assert after[0] - before[0] == pytest.approx(0.05 * build.wheel.radius, rel=0.01)
