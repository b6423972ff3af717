"""A winding with a step in its build, by the row, the plane and the solid: it is its two plain pieces in series."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigs.fields.plane_bodies import HARD, bar, steel
from rigs.fields.shapes import BENCH_MAGNET, placed, rod
from stringflux.geometry.mesh.bars import PLANE_QUALITIES
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.geometry.shapes.bodies import Revolved, SolidBody
from stringflux.geometry.shapes.long_bars import LongBuild
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.shapes.section import CoilSides, PlaneShape
from stringflux.postprocess.coil.hum import hum_area
from stringflux.solver.plane.section import solve_plane
from stringflux.solver.row.solve import SolvedRow, solve_row
from stringflux.solver.solid.solve import solve_solid

MIDDLE, RAMP = -7e-3, 1e-6
WHOLE = Racetrack(inner_radius=3e-3, straight=6e-3, build=4e-3, bottom=-13e-3, top=-2e-3, turns=1000.0, builds=(
    (-13e-3, 2e-3), (MIDDLE - RAMP, 2e-3), (MIDDLE + RAMP, 4e-3), (-2e-3, 4e-3)))
LOWER = replace(WHOLE, build=2e-3, top=MIDDLE, builds=(), turns=1000.0 * 12 / 32)
UPPER = replace(WHOLE, build=4e-3, bottom=MIDDLE, builds=(), turns=1000.0 * 20 / 32)
SHARES = np.array([LOWER.turns, UPPER.turns]) / WHOLE.turns
POINTS = np.array([[0.0, 1.2e-3, -2.5e-3, 4e-3], [0.3e-3, -1.8e-3, 2.2e-3, 3e-3], [2e-3, 1.5e-3, 3e-3, 2.5e-3]])
SAME = 1e-5  # a ramp of 2 µm, and Gauss points in other slices


def test_row() -> None:
    def solved(coil: Racetrack) -> SolvedRow:
        return solve_row([placed(rod(), 1e-3)], coil, {"bench": BENCH_MAGNET}, quality=QUALITIES["draft"],
                         history="after", band=(0.7e-3, 7e-3))

    whole, *parts = (solved(coil) for coil in (WHOLE, LOWER, UPPER))
    b = sum(part.field.reciprocal(POINTS) for part in parts)
    # the rod's potential is fitted over its height: on panels that break at other places
    assert whole.field.reciprocal(POINTS) == pytest.approx(b, abs=5e-4 * np.abs(b).max())
    area = sum(hum_area(part).total for part in parts)
    assert hum_area(whole).total == pytest.approx(area, abs=1e-4 * np.abs(area).max())
    assert whole.field.bias(POINTS) == pytest.approx(parts[0].field.bias(POINTS), rel=1e-9)


def test_solid() -> None:
    one = SolidBody(name="rod", material="bench", magnetisation=(0, 0, 1),
                    form=Revolved(outline=rod().parts[0].outline, x=0.0, y=1e-3))
    found = solve_solid([one], [WHOLE, LOWER, UPPER], {"bench": BENCH_MAGNET}, quality=SOLID_QUALITIES["draft"])
    L = found.matrix  # of one turn each
    assert L[0, 0] == pytest.approx(SHARES @ L[1:, 1:] @ SHARES, rel=SAME)
    assert L[0, 1:] == pytest.approx(SHARES @ L[1:, 1:], rel=SAME)
    assert found.moments[0] == pytest.approx(SHARES @ found.moments[1:], rel=SAME)
    b = [found.connected(np.array(w)).field.reciprocal(POINTS) for w in ((1.0, 0.0, 0.0), (0.0, *SHARES))]
    assert b[0] == pytest.approx(b[1], abs=SAME * np.abs(b[1]).max())


def test_plane() -> None:
    shape = PlaneShape(parts=(bar(-1.5e-3, 1.5e-3, -12e-3, 0.0, "blade"),
                              bar(-5e-3, 5e-3, -17e-3, -13.5e-3, "bar", (0, 1))))
    whole, *parts = (LongBuild(shape=shape, halves=(), coil=coil).sides for coil in (WHOLE, LOWER, UPPER))
    assert isinstance(whole, CoilSides)
    found = solve_plane(shape, (whole, *parts), {"blade": steel(200), "bar": HARD}, quality=PLANE_QUALITIES["draft"])
    L = found.inductance
    assert L[0, 0] == pytest.approx(SHARES @ L[1:, 1:] @ SHARES, rel=SAME)
    b = [found.reciprocal(POINTS[[0, 2]], k) for k in range(3)]
    assert b[0] == pytest.approx(SHARES[0] * b[1] + SHARES[1] * b[2], abs=SAME * np.abs(b[0]).max())
