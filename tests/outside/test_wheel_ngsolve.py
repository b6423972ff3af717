"""A toothed wheel before a sensor against another code: ngsolve, which meshes each angle anew and knows of no
circle to slide on (`rigs/fields/wheel_ngsolve.py`); the curves of magnet and steel are shared, the history too."""

from __future__ import annotations

import pytest

from rigs.fields.wheel_ngsolve import ngsolve_linkage
from rigs.wheels import MATERIALS, wheel_build
from stringflux.geometry.mesh.wheel import SLIDING
from stringflux.solver.materials.magnet import MagnetCurve
from stringflux.solver.materials.soft import SoftCurve
from stringflux.solver.wheel.solve import SolvedWheel, solve_wheel

# ImportError and not only ModuleNotFoundError: installed, it may still lack libquadmath.so.0 of the system
pytest.importorskip("ngsolve", reason="extra 'peers' is not installed, or cannot be loaded", exc_type=ImportError)

WITHIN = 5e-3  # of λ; 1.6e-3 found on the normal mesh, 0.5e-3 on the fine one
SWING = 1e-2  # of λ over a tooth less λ over a floor; a difference of both; 2e-3 found


@pytest.fixture(scope="module")
def solved() -> SolvedWheel:
    return solve_wheel(wheel_build(), MATERIALS, quality=SLIDING["normal"])


@pytest.mark.slow
def test_linkage_at_three_angles(solved: SolvedWheel) -> None:
    magnet, steel = MATERIALS["alnico-5"], MATERIALS["steel-1008"]
    assert isinstance(magnet, MagnetCurve)
    assert isinstance(steel, SoftCurve)
    at = (0, 6, 12)
    theirs = [ngsolve_linkage(solved.build, magnet, steel, float(solved.angles[i])) for i in at]
    ours = [float(solved.linkage[i]) for i in at]
    assert ours == pytest.approx(theirs, rel=WITHIN)
    assert ours[0] - ours[-1] == pytest.approx(theirs[0] - theirs[-1], rel=SWING)
