"""The field round a winding against coaxial cylinders, parallel plates and laws of capacitance matrices."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stringflux.geometry.shapes.row import Racetrack
from stringflux.solver.capacitance.cell import EPSILON_0
from stringflux.solver.capacitance.outside import Metal, OutsideGrid, outside, winding_boxes

COIL = Racetrack(inner_radius=2.5e-3, straight=52.2e-3, build=4.2e-3, bottom=-12e-3, top=-1e-3, turns=7000)
FINE = OutsideGrid(across=10, growth=1.2)
EXACT = 1e-3  # what linear elements on the fine grid leave
POLE = (0.0, 2.2e-3, -15.5e-3, 1.5e-3)
WALL = (7.7e-3, 8.2e-3, -15e-3, 2e-3)


def longer(coil: Racetrack, metal: Metal, face: int) -> float:
    """What 40 mm more of height add: the ends, the same in both, fall away."""
    def of(height: float) -> float:
        u0, u1, _, _ = metal.boxes[0]
        tall = Metal(boxes=((u0, u1, -height - 30e-3, 30e-3),), earthed=True)
        return float(outside(replace(coil, bottom=-height, top=0.0), [tall],
                             grid=replace(FINE, far=40e-3 / height))[face, face])
    return of(80e-3) - of(40e-3)


def test_coaxial_cylinders() -> None:
    coil = replace(COIL, straight=0.0)
    can = Metal(boxes=((9e-3, 10e-3, 0.0, 0.0),), earthed=True)
    rod = Metal(boxes=((0.0, 1.5e-3, 0.0, 0.0),), earthed=True)
    assert longer(coil, can, 1) == pytest.approx(2 * np.pi * EPSILON_0 * 40e-3 / np.log(9 / 6.7), rel=EXACT)
    assert longer(coil, rod, 0) == pytest.approx(2 * np.pi * EPSILON_0 * 40e-3 / np.log(2.5 / 1.5), rel=EXACT)


def test_parallel_plates() -> None:
    coil = replace(COIL, straight=1e4)  # so long that its round ends are nothing
    plate = Metal(boxes=((7.2e-3, 8e-3, 0.0, 0.0),), earthed=True)
    assert longer(coil, plate, 1) == pytest.approx(2e4 * EPSILON_0 * 40e-3 / 0.5e-3, rel=EXACT)


def test_a_matrix_of_capacitances() -> None:
    for earthed in (False, True):
        k = outside(COIL, [Metal(boxes=(POLE,), earthed=earthed), Metal(boxes=(WALL,), earthed=True)])
        assert k == pytest.approx(k.T, rel=1e-9)
        assert np.linalg.eigvalsh(k).min() > 0


def test_floating_metal_lies_between_none_and_earthed() -> None:
    """By Thomson's theorem metal without charge adds energy to the field it is brought into, and earthing it more."""
    without = outside(COIL, grid=FINE)
    floats, earthed = (outside(COIL, [Metal(boxes=(POLE,), earthed=e)], grid=FINE) for e in (False, True))
    assert np.linalg.eigvalsh(floats - without).min() > -0.02 * without[1, 1]  # grids differ by that
    assert np.linalg.eigvalsh(earthed - floats).min() > -1e-18
    assert earthed[0, 0] > 5 * floats[0, 0]  # a pole close to the live inner face is what counts


def test_what_it_lies_in_multiplies_it() -> None:
    metal = [Metal(boxes=(POLE,), earthed=False)]
    assert outside(COIL, metal, permittivity=3.0) == pytest.approx(3 * outside(COIL, metal), rel=1e-9)


def test_the_shipped_grid() -> None:
    metal = [Metal(boxes=(POLE,), earthed=False), Metal(boxes=(WALL,), earthed=True)]
    finer = outside(COIL, metal, grid=replace(FINE, far=12.0))
    assert outside(COIL, metal) == pytest.approx(finer, abs=0.03 * finer[1, 1])  # 3 % of a part that is small itself


def test_a_tall_floating_rod_follows_the_face() -> None:
    """Close to the inner face it takes its voltage: hardly anything is added between the faces."""
    k = outside(COIL, [Metal(boxes=((0.0, 2.45e-3, -12e-3, -1e-3),), earthed=False)], grid=FINE)
    assert k[0, 0] < 2 * outside(COIL, grid=FINE)[0, 0]


@pytest.mark.parametrize("builds", [(2.2, 4.2, 3.0), (2.2, 4.2, 2.2), (4.2, 2.2, 4.2)])
def test_the_stair_of_a_changing_build_settles(builds: tuple[float, float, float]) -> None:
    coil = replace(COIL, builds=tuple((z, 1e-3 * w) for z, w in zip((-12e-3, -6e-3, -1e-3), builds, strict=True)))
    for metal in ([], [Metal(boxes=(POLE,), earthed=False), Metal(boxes=(WALL,), earthed=True)]):
        fine = outside(coil, metal, grid=OutsideGrid(steps=32))
        assert outside(coil, metal) == pytest.approx(fine, abs=0.03 * fine[1, 1])
        assert np.linalg.eigvalsh(fine).min() > 0
    alike = replace(COIL, builds=tuple((z, 4.2e-3) for z in (-12e-3, -6e-3, -1e-3)))
    assert len(winding_boxes(alike)) == 2
    plain = outside(COIL, grid=FINE)
    assert outside(alike, grid=FINE) == pytest.approx(plain, abs=0.02 * plain[1, 1])  # another line in the grid


def test_metal_in_a_waist_is_not_in_the_winding() -> None:
    waist = replace(COIL, builds=((-12e-3, 4.2e-3), (-6e-3, 2.2e-3), (-1e-3, 4.2e-3)))
    ring = Metal(boxes=((5.2e-3, 6e-3, -6.3e-3, -5.7e-3),), earthed=True)
    assert outside(waist, [ring])[1, 1] > outside(waist)[1, 1]


def test_metal_in_the_winding() -> None:
    with pytest.raises(ValueError, match="reaches into the winding"):
        outside(COIL, [Metal(boxes=((2e-3, 3e-3, -5e-3, -4e-3),), earthed=True)])
