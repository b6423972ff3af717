"""Published check of the 3-D solver: TEAM workshop problem 13, measured mean inductions (`pytest -s` prints them).

Web and flange hold what is asked for, 5 % and 8 %. In the plate, and in the flange near the gap, the solution of
the problem as it is published lies 3.5 to 7.5 % and 9 to 14 % above the measured values, whatever the mesh (three
families of meshes to 677 000 unknowns move the plate by 0.1 %). An independent code with another unknown (the vector
potential, which converges from the other side) finds the same: so there the solver is held to that, and the rest is
between the problem and its measurement.
"""

from __future__ import annotations

import pytest
from team13 import Fineness, half_mesh, printed, solve, table

LIMITS = {"web": 0.05, "flange": 0.08}
"""Of the measured value."""
NEAR = 15.0
"""Places of the flange nearer to the gap than this, mm, are held to the other code only."""

# T; ngsolve, edge elements of second order for A on a mesh of 121 440 tetrahedra (636 512 unknowns), gap 0.5 mm,
# means over sections; third step of Newton's method, whose decrement was 1.3 % of the energy
OTHER = {
    "plate": {0: 1.3873, 10: 1.3760, 20: 1.3427, 30: 1.2836, 40: 1.1948, 50: 1.0591, 60: 0.7013},
    "flange": {10: 0.4943, 20: 0.5925, 30: 0.6644, 40: 0.7254, 50: 0.7803, 60: 0.8307, 80: 0.9140, 100: 0.9572,
               110: 0.9651},
    "web": {50: 0.9736, 40: 0.9786, 30: 0.9837, 20: 0.9879, 10: 0.9906, 0: 0.9915},
}
APART = 0.015
"""Of each other; measured 1.0 % at the plate's end, 0.2 % elsewhere."""


@pytest.fixture(scope="module")
def rows() -> list[tuple[str, float, float, float]]:
    found = table(solve(half_mesh(Fineness())))
    print(f"\n{printed(found)}")
    return found


@pytest.mark.parametrize("part", LIMITS)
def test_sheets_carry_the_measured_induction(rows: list[tuple[str, float, float, float]], part: str) -> None:
    off = {at: computed / measured - 1 for name, at, measured, computed in rows
           if name == part and (part != "flange" or at > NEAR)}
    assert max(abs(v) for v in off.values()) <= LIMITS[part], off


@pytest.mark.parametrize("part", OTHER)
def test_sheets_carry_what_another_formulation_finds(rows: list[tuple[str, float, float, float]], part: str) -> None:
    found = {at: computed for name, at, _, computed in rows if name == part}
    off = {at: found[at] / value - 1 for at, value in OTHER[part].items()}
    assert max(abs(v) for v in off.values()) <= APART, off
