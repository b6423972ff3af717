"""TEAM workshop problem 13 as a case file, asked as a person would: `stringflux flux team13.toml --body web …`.

The solver itself is held to it on a mesh of its own in test_team13.py; here stand the case's direct current, its path
with round corners, its curve from a file, and the program's own meshes, which have one element through a sheet and
know nothing of the edges at the gaps. So all is too high by what is left there, less with every finer mesh: the
plate, against another code's vector potential, 5.3 to 6.4 % at draft and 3.8 to 4.5 at normal, the web, against what
was measured, 3.3 to 3.6 and 2.2 to 2.5. The error that is told at draft, 1.1 to 2.8 times that of
other computations, covers it. Draft takes 0.6 GB, normal 1.1 GB.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from measure.team13 import FLANGE, PLATE, WEB
from stringflux.cases import load_case, solve
from stringflux.cases.jobs.flux import BodyFlux
from stringflux.cases.pickup import Pickup

from .test_team13 import PUBLISHED, VECTOR

CASE = Path(__file__).with_name("team13.toml")
SCALE = 0.25
_WEB, _FLANGE = 0.05, 0.065  # of what was measured; found 3.3 to 3.6 %, 4.0 to 6.2 % from 60 mm on, at draft
_PLATE = 0.075  # of VECTOR; found 3.3 to 6.4 %
_TOLD = 3.0


@pytest.fixture(scope="module")
def pickup() -> Pickup:
    return solve(load_case(CASE, without_strings=True), quality="draft")


def error_covers(found: BodyFlux, right: float) -> bool:
    """Whether the error told holds the true one, and is not more than three times it.

    It is of the mesh, so it is held against what others compute of the same dimensions, not against the measured.
    """
    true = abs(abs(found.flux) - right * found.area)
    print(f"{found.bodies} at {found.at}: true {true} Wb, told {found.error} of {found.flux}")
    return true <= found.error <= _TOLD * true


@pytest.mark.parametrize("at", [0, 10, 20, 30, 40, 50])
def test_web(pickup: Pickup, at: float) -> None:
    found = pickup.flux_in("web", across="z", at=SCALE * at * 1e-3)
    assert -found.mean == pytest.approx(WEB[at], rel=_WEB)
    assert error_covers(found, PUBLISHED["web"][at])


@pytest.mark.parametrize("at", [60, 80, 100, 110])
def test_flange(pickup: Pickup, at: float) -> None:
    found = pickup.flux_in("flange", across="x", at=SCALE * at * 1e-3)
    assert found.mean == pytest.approx(FLANGE[at], rel=_FLANGE)
    assert error_covers(found, PUBLISHED["flange"][at])


@pytest.mark.parametrize("at", list(PLATE))
def test_plate(pickup: Pickup, at: float) -> None:
    found = pickup.flux_in("plate", across="z", at=SCALE * at * 1e-3)
    assert found.mean == pytest.approx(VECTOR["plate", int(at)], rel=_PLATE)
    assert error_covers(found, VECTOR["plate", int(at)])
