"""The magnets' flux through a turn: against the vector potential round it, and against reciprocity."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.solved.row_case import RowCase

CLOSE = 2e-3
"""B is the slope of a P2 function, averaged at the nodes; A is the function itself."""
REMANENCE = 1.26
"""T, of the material's table."""
RIGID = 1.5e-2
"""Its recoil permeability is 1.05, so it gives way a little to its own field; and what the midpoints below cost."""
FLAT = {"shape": "flat"}


def test_round_coil_against_the_vector_potential() -> None:
    """One pole in one round coil: Φ = 2π r A_φ, of which A_φ = r u is what the cell solves for."""
    pickup = solve(load_case("bench-single"))
    solved = pickup.solved
    assert isinstance(solved, RowCase)
    row, coil = solved.solution(), pickup.case.racetrack()
    place = row.places[0]
    section, state = row.cells[place.shape].section, row.bias.states[0]
    build, weight = np.polynomial.legendre.leggauss(6)
    r = coil.inner_radius + coil.build * (build + 1) / 2
    z = (coil.bottom + coil.top) / 2 + (coil.top - coil.bottom) / 2 * build - place.face
    R, Z = np.meshgrid(r, z)
    u = section.basis.probes(np.stack([R.ravel(), Z.ravel()])) @ state.u
    flux = float(np.outer(weight, weight).ravel() / 4 @ (2 * np.pi * R.ravel() ** 2 * u))
    found = solved.turn_flux()
    assert found is not None
    assert found == pytest.approx(flux, rel=CLOSE)


@pytest.mark.slow
def test_row_against_rigid_rods_of_another_library() -> None:
    """Six rods of a magnet that hardly answers to others, in one long coil: magpylib's flux through the mean turn."""
    magpylib = pytest.importorskip("magpylib")
    pickup = solve(load_case("baritone-six", {"pole.1.part.1.material": "ndfeb-38", "pole.1.part.1.tip": FLAT}))
    coil = pickup.case.racetrack()
    rods = magpylib.Collection([magpylib.magnet.Cylinder(
        polarization=(0, 0, REMANENCE), dimension=(4.8e-3, 17e-3), position=(0, p.y, p.face - 8.5e-3))
        for p in pickup.case.placed_poles()])
    inner, x_step = coil.inner_radius, 0.05e-3
    points, weight = np.polynomial.legendre.leggauss(3)
    total = 0.0
    for a, wa in zip(points, weight, strict=True):
        half = inner + coil.build * (a + 1) / 2
        x = np.arange(-half + x_step / 2, half, x_step)
        y = np.arange(-half - coil.straight / 2 + x_step, half + coil.straight / 2, 2 * x_step)
        X, Y = (g.ravel() for g in np.meshgrid(x, y))
        within = np.hypot(X, np.maximum(np.abs(Y) - coil.straight / 2, 0.0)) < half
        for b, wb in zip(points, weight, strict=True):
            z = (coil.bottom + coil.top) / 2 + (coil.top - coil.bottom) / 2 * b
            at = np.stack([X[within], Y[within], np.full(np.count_nonzero(within), z)], axis=1)
            total += wa * wb / 4 * float(rods.getB(at)[:, 2].sum()) * 2 * x_step**2
    found = pickup.solved.turn_flux()
    assert found is not None
    assert found == pytest.approx(total, rel=RIGID)
