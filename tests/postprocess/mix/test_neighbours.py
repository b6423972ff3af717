"""What neighbours do to each other: dipoles against Neumann's integral, and shares of made-up fields."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from stringflux.geometry.arrays import Array
from stringflux.postprocess.mix.neighbours import Neighbour, dipole_coupling, left_out


def filaments(distance: float) -> float:
    """M of two stadium loops of 9 mm by 57 mm side by side, by Neumann's integral, H."""
    t = np.linspace(0, 1, 4001)
    r, half = 4.6e-3, 24e-3
    x = np.concatenate([np.full(4001, r), r * np.cos(np.pi * t), np.full(4001, -r), r * np.cos(np.pi * (1 + t))])
    y = np.concatenate([half * (2 * t - 1), half + r * np.sin(np.pi * t), half * (1 - 2 * t),
                        -half + r * np.sin(np.pi * (1 + t))])
    p = np.stack([x, y], axis=1)[::10]
    ends = np.vstack([p, p[:1]])
    middle, step = (ends[1:] + ends[:-1]) / 2, np.diff(ends, axis=0)
    apart = np.hypot(middle[:, None, 0] - middle[None, :, 0] - distance, middle[:, None, 1] - middle[None, :, 1])
    return float(1e-7 * np.sum((step @ step.T) / apart))


def test_dipoles_bound_the_mutual_inductance() -> None:
    area = 2 * 4.6e-3 * 48e-3 + np.pi * 4.6e-3**2
    found = []
    for d in (0.03, 0.05, 0.1, 0.5):
        dipoles = dipole_coupling((area, area), (1e-6, 1e-6), d) * 1e-6
        found.append(abs(filaments(d)) / dipoles)
    assert all(a < b for a, b in pairwise(found))
    assert found[-1] == pytest.approx(1.0, abs=0.02)  # what is left is of order (half length/distance)²
    assert found[0] < 1
    assert found[0] == pytest.approx(2 / 3, abs=0.04)  # "a third" and "a fifth" of the module's head
    assert found[1] == pytest.approx(4 / 5, abs=0.04)


class Dipole:
    """Fields of one upward dipole at the origin, on the plane of its strings."""

    def __init__(self, strength: float) -> None:
        self.strength = strength

    def bias(self, points: Array) -> Array:
        r = np.sqrt(np.sum(points**2, axis=0))
        return self.strength * np.stack([0 * r, 0 * r, (3 * points[2] ** 2 - r**2) / r**5])

    def reciprocal(self, points: Array) -> Array:
        return 1e-3 * self.bias(points)


@pytest.mark.parametrize("apart", [0.04, 0.2])
def test_shares(apart: float) -> None:
    """A weak pickup beside one of twice the strength, strings 5 mm up; past the reach the fall is the dipole's."""
    at = np.array([[0.0], [5e-3]])
    weak = Neighbour(place=0.1, field=Dipole(1.0), strings=at, area=4.0, inductance=3.0)
    strong = Neighbour(place=0.1 + apart, field=Dipole(2.0), strings=at, area=5.0, inductance=3.0)
    found = left_out([weak, strong])
    fall = (5e-3 / apart) ** 3 / 2
    near = 0.07  # of the terms with z² at 40 and at 60 mm
    assert found.string == pytest.approx(fall, rel=near)
    assert found.magnets == pytest.approx(2 * fall, rel=near)
    assert found.inductance == pytest.approx(dipole_coupling((4.0, 5.0), (3.0, 3.0), apart))
    assert found.largest() == max(found.inductance, found.magnets)
