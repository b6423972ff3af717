"""Published check of the 3-D solver: TEAM workshop problem 13, measured mean inductions (`pytest -s` prints them).

The web and the flange keep the limits, but for the flange at 10 mm; the plate does not. There the answer for the
published dimensions is above the measured one by any method: VECTOR holds what another code finds with a vector
potential, which errs to the other side on a coarse mesh. A gap of 0.58 mm in place of 0.5 would bring every section
within 4 % (`python tests/slow/team13.py gap=0.58`), but nothing published says that it was.
"""

from __future__ import annotations

import pytest
from team13 import Fineness, half_mesh, printed, solve, table

Rows = list[tuple[str, float, float, float]]

LIMITS = {"plate": 0.03, "web": 0.05, "flange": 0.08}  # of the measured value
# T, ngsolve with edge elements of order 2: `python tests/slow/team13_vector.py`; where the measured one is missed
VECTOR = {("plate", 0): 1.375, ("plate", 10): 1.364, ("plate", 20): 1.331, ("plate", 30): 1.273,
          ("plate", 40): 1.185, ("plate", 50): 1.050, ("plate", 60): 0.700, ("flange", 10): 0.492}
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
