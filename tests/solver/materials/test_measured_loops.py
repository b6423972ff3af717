"""The law of plays against measured loops of growing amplitude: inner ones follow from the outer and the smallest.

Of string wire no loop is at hand. These are of a ferrite of manganese and zinc: ring core, H in A/m, B in T, at four
amplitudes; the branch that falls, the other is its mirror image. Measured values are those of R. Szewczyk, "Two step,
differential evolution-based identification of parameters of Jiles-Atherton model of magnetic hysteresis loops",
Automation 2018; data under the MIT licence with the library JAmodel, file `B_MnZn_HP_ferrite.mat` (read), every sixth
point and thinner.
"""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.geometry.arrays import Array
from stringflux.solver.constants import MU0
from stringflux.solver.materials import StringSteel
from stringflux.solver.materials.rayleigh import RayleighLaw
from stringflux.solver.materials.string_memory import StringMemory

LOOPS = [
    ([5.984, 4.856, 3.545, 2.422, 1.106, -0.005, -1.140, -2.451, -3.574, -4.891, -6.013],
     [71.63, 59.78, 45.66, 32.77, 17.95, 4.19, -9.76, -26.14, -40.78, -57.16, -71.63]),
    ([9.505, 7.719, 5.638, 3.857, 1.764, -0.005, -1.804, -3.891, -5.672, -7.759, -9.540],
     [117.54, 100.80, 79.00, 58.77, 34.01, 10.99, -13.25, -41.85, -66.09, -94.69, -117.54]),
    ([20.069, 16.319, 11.898, 8.136, 3.739, -0.023, -3.797, -8.217, -11.980, -16.377, -20.139],
     [239.96, 217.46, 186.24, 152.41, 100.62, 46.04, -14.82, -89.46, -147.88, -204.38, -239.96]),
    ([79.947, 64.945, 47.357, 32.449, 14.861, -0.093, -15.142, -32.731, -47.639, -65.228, -80.182],
     [393.85, 382.93, 363.61, 334.55, 265.01, 101.67, -170.14, -316.06, -356.98, -381.53, -393.85]),
]
AREAS = (0.0677, 0.268, 2.03, 7.12)  # J/m³, of the data with all their points
FITTED = StringMemory(steel=StringSteel(name="ferrite", saturation=0.4244 / MU0, chi_initial=17046.0,
                                        chi_reversible=0.43 * 17046.0), pinning=8.36, free=0.4302, spread=1.0,
                      cells=400)
"""Js, χ, κ and the free share fitted to the smallest and the largest loop; κ is 0.4 % less than their branches alone
would have it, for the area of the largest. So many shares that the law is seen and not their number. The widest
spread fits best: there is then pinning down to 0, as Rayleigh's law wants it."""


def falling(law: StringMemory, h: Array) -> Array:
    """B (n,) in T on the falling branch of a closed loop that begins at h[0]."""
    top = law.moved(law.demagnetised(()), h[0])
    return np.array([MU0 * (x + law.magnetisation(top, x)[0]) for x in h])


@pytest.mark.parametrize(("loop", "off"), [(0, 0.015), (1, 0.035), (2, 0.06), (3, 0.055)])
def test_a_family_of_loops(loop: int, off: float) -> None:
    """The second and the third had no part in the fit, and are 3 and 6 % of their tips off at most; that is measured,
    and what a law of four numbers leaves. The largest is narrower by the law."""
    h, b = (np.array(v) for v in LOOPS[loop])
    assert np.max(np.abs(falling(FITTED, h) - 1e-3 * b)) < off * 1e-3 * b[0]


@pytest.mark.parametrize(("loop", "off"), [(0, 0.035), (1, 0.08), (2, 0.15), (3, 0.105)])
def test_areas_of_the_family(loop: int, off: float) -> None:
    assert FITTED.loop_area(LOOPS[loop][0][0]) == pytest.approx(AREAS[loop], rel=off)


def test_the_small_ones_are_rayleighs() -> None:
    """Area as the cube of the amplitude: μ_i and ν of the smallest give the area of the next to 1 % and its branch to
    4 % of its tip; the third is beyond."""
    tops = [loop[0][0] for loop in LOOPS]
    nu = AREAS[0] / float(RayleighLaw(mu_initial=1.0, constant=1.0).area(tops[0]))
    law = RayleighLaw(mu_initial=1e-3 * LOOPS[0][1][0] / (MU0 * tops[0]) - nu * tops[0], constant=nu)
    assert law.area(tops[1]) == pytest.approx(AREAS[1], rel=0.02)
    h, b = np.array(LOOPS[1][0]), 1e-3 * np.array(LOOPS[1][1])
    np.testing.assert_allclose(law.flux(h, tops[1]), b, atol=0.04 * b[0])
    assert law.area(tops[2]) > 1.2 * AREAS[2]
    coercivity = 5.67  # A/m, of the largest loop
    assert law.constant * coercivity / (law.mu_initial - 1) == pytest.approx(0.127, abs=0.003)
