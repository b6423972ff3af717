"""Lines of a wheel's field: along B, of one flux each, mirrored where the wheel is."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.wheels import FEW, MATERIALS, wheel_build
from stringflux.postprocess.wheel.lines import WheelLines, wheel_lines
from stringflux.solver.wheel.solve import SolvedWheel, solve_wheel

WINDOW = (-12e-3, 12e-3, -24e-3, 10e-3)


@pytest.fixture(scope="module")
def solved() -> SolvedWheel:
    return solve_wheel(wheel_build(), MATERIALS, quality=FEW)


@pytest.fixture(scope="module")
def lines(solved: SolvedWheel) -> WheelLines:
    return wheel_lines(solved, WINDOW)


def test_one_set_for_each_part_of_a_tooth(lines: WheelLines) -> None:
    assert len(lines.sets) == 4
    for one, other in ((1, 3),):
        for line, image in zip(lines.sets[one], lines.sets[other], strict=True):
            np.testing.assert_array_equal(image, line * np.array([[-1.0], [1.0]]))


def test_lines_go_up_in_a_magnet_whose_north_is_up(lines: WheelLines) -> None:
    rises = []
    for line in lines.sets[0]:
        inside = (np.abs(line[0]) < 1.6e-3) & (np.abs(line[1] + 15e-3) < 5e-3)
        rises += list(np.diff(line[1])[inside[1:] & inside[:-1]])
    assert len(rises) > 40
    assert min(rises) > 0


def test_between_two_lines_there_is_the_step(solved: SolvedWheel, lines: WheelLines) -> None:
    """As many lines cross the magnet as its flux has steps, that being the difference of A on its two sides."""
    z = -15.5e-3
    crossing = 0
    for x, up in lines.sets[0]:
        k = np.flatnonzero((up[:-1] - z) * (up[1:] - z) < 0)
        crossing += int(np.count_nonzero(np.abs(x[k]) < 2e-3))
    nodes = np.asarray(solved.space.sheets.nodes)
    sides = [solved.potential(0)[np.argmin(np.hypot(nodes[0] - x, nodes[1] - z))] for x in (-2e-3, 2e-3)]
    steps = (sides[1] - sides[0]) * solved.build.sensor.length / lines.step
    assert steps > 8
    assert crossing == pytest.approx(steps, abs=1.0)
