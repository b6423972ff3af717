"""Published check of the 3-D solver: TEAM workshop problem 13, measured mean inductions (`pytest -s` prints them).

The web and the flange keep the limits, but for the flange at 10 mm; the plate does not. There the answer for the
published dimensions is above the measured one by any method: VECTOR holds what another code finds with a vector
potential, which errs to the other side on a coarse mesh. A gap of 0.58 mm in place of 0.5 would bring every section
within 4 % (`python tests/run.py team13 gap=0.58`), but nothing published says that it was.

PUBLISHED is a calculation that others made of the same dimensions and curve: it too is above the measured plate, by
up to 4.6 %, and above the flange at 10 mm by 6.9 %. The limits are kept against it in every part.
"""

from __future__ import annotations

import pytest

from measure.team13 import FLANGE, PLATE, WEB, Fineness, half_mesh, printed, solve, table

Rows = list[tuple[str, float, float, float]]

LIMITS = {"plate": 0.03, "web": 0.05, "flange": 0.08}  # of the measured value
# T, ngsolve with edge elements of order 2: `python tests/run.py team13_vector`; where the measured one is missed
VECTOR = {("plate", 0): 1.375, ("plate", 10): 1.364, ("plate", 20): 1.331, ("plate", 30): 1.273,
          ("plate", 40): 1.185, ("plate", 50): 1.050, ("plate", 60): 0.700, ("flange", 10): 0.492}
# T, V. Hanser, "Solution of the TEAM 13 problem", TU Wien 2018 (read, repository NGSolve/TEAM-problems): ngsolve with
# a vector potential on a coarse mesh, so some per cent low
PUBLISHED = {
    "plate": dict(zip(PLATE, (1.353, 1.342, 1.309, 1.252, 1.165, 1.031, 0.685), strict=True)),
    "flange": dict(zip(FLANGE, (0.261, 0.484, 0.582, 0.654, 0.716, 0.771, 0.822, 0.906, 0.951, 0.960, 0.967),
                       strict=True)),
    "web": dict(zip(WEB, (0.966, 0.972, 0.978, 0.983, 0.988, 0.991, 0.992), strict=True)),
}
AGREE = 0.01  # found 0.8 to 0.9 % apart; as meshes get finer the scalar potential's values fall and the other's rise


@pytest.fixture(scope="module")
def rows() -> Rows:
    found: Rows = table(solve(half_mesh(Fineness())))
    print(f"\n{printed(found)}")
    return found


@pytest.mark.parametrize(("part", "places"), [("web", 7), ("flange", 10)])
def test_sheets_of_problem_13_carry_the_measured_induction(rows: Rows, part: str, places: int) -> None:
    errors = {at: computed / measured - 1 for name, at, measured, computed in rows
              if name == part and (part, at) not in VECTOR}
    assert len(errors) == places
    assert max(map(abs, errors.values())) <= LIMITS[part], errors


def test_where_it_misses_a_vector_potential_misses_alike(rows: Rows) -> None:
    found = {(part, at): computed for part, at, _, computed in rows}
    off = {place: found[place] / b - 1 for place, b in VECTOR.items()}
    assert max(map(abs, off.values())) <= AGREE, off


@pytest.mark.parametrize("part", list(PUBLISHED))
def test_a_published_calculation_is_met_within_the_limits(rows: Rows, part: str) -> None:
    off = {at: computed / PUBLISHED[part][at] - 1 for name, at, _, computed in rows if name == part}
    assert off.keys() == PUBLISHED[part].keys()
    assert max(map(abs, off.values())) <= LIMITS[part], off
