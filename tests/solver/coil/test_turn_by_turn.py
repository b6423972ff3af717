"""A winding as thick as its turns make it against the same turns one by one."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ellipe, ellipk

from stringflux.geometry.case.coil import Coil
from stringflux.geometry.shapes.row import Racetrack
from stringflux.solver.coil.air import inductance, mean_area

MU0 = 4e-7 * math.pi
D = 0.2e-3
PER_LAYER, WINDOW = 40, 6e-3
# Gauss points over the winding, and that turns are put for squares: neighbours' mean distance is 0.6 % more than D
BY_TURNS = 1e-3


def laid(turns: int) -> Racetrack:
    """A round winding in square layers: the fill of circles in squares."""
    return Coil.model_validate({
        "inner_width": "8 mm", "build": f"{WINDOW * 1e3} mm", "bottom": "0 mm",
        "top": f"{PER_LAYER * D * 1e3:.6f} mm", "turns": turns, "wire": "0.19 mm",
        "overall_diameter": f"{D * 1e3} mm", "fill": math.pi / 4}).racetrack()


def rings(track: Racetrack) -> tuple[np.ndarray, np.ndarray]:
    layers = round(track.turns / PER_LAYER)
    r = track.inner_radius + D * (np.arange(layers) + 0.5)
    z = D * (np.arange(PER_LAYER) + 0.5)
    R, Z = np.meshgrid(r, z)
    return R.ravel(), Z.ravel()


def by_turns(track: Racetrack) -> float:
    """ΣΣ M of Maxwell's rings; a ring by itself at the mean distance of a square's points, 0.44705 of its side
    (Rosa and Grover 1912, from memory)."""
    r, z = rings(track)
    a, b = r[:, None], r[None, :]
    apart = z[:, None] - z[None, :] + np.diag(np.full(r.size, 0.44705 * D))
    m = 4 * a * b / ((a + b) ** 2 + apart**2)
    M = MU0 * np.sqrt(a * b) * ((2 / np.sqrt(m) - np.sqrt(m)) * ellipk(m) - 2 / np.sqrt(m) * ellipe(m))
    return float(M.sum())


@pytest.mark.parametrize("layers", [2, 5, 20])
def test_inductance_is_the_sum_over_turns(layers: int) -> None:
    track = laid(layers * PER_LAYER)
    assert track.build == pytest.approx(layers * D, rel=1e-9)
    assert inductance(track, n=12, angles=20) == pytest.approx(by_turns(track), rel=BY_TURNS)


def test_area_is_the_mean_over_turns() -> None:
    track = laid(20 * PER_LAYER)
    r, _ = rings(track)
    # layers of D each: the mean of r² lacks D²/12
    assert mean_area(track) == pytest.approx(float(np.mean(math.pi * (r**2 + D**2 / 12))), rel=1e-9)


def test_ten_turns_more_change_more_than_their_number() -> None:
    less, more = laid(800), laid(810)
    assert inductance(more) / inductance(less) > (810 / 800) ** 2 * 1.001  # they lie outside, and go round more
