"""The field of the 3-D picture in air against the axisymmetric solver: no noise of elements at draft."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import LinearNDInterpolator
from scipy.ndimage import distance_transform_edt

from stringflux.cases.files.load import load_case
from stringflux.cases.solved.solve import solved_case
from stringflux.geometry.arrays import Array
from stringflux.postprocess.pictures.pole_section import section_record
from stringflux.postprocess.pictures.slice import STEP, slice_record
from stringflux.solver.row.solve import SolvedRow
from stringflux.solver.solid.solve import SolvedSolid

WHOLE, FAR, AT_FACE = 0.025, 0.015, 0.07
"""RMS of |ΔB|/|B| in all of the air, from 2 mm off the rod, within 0.3 mm of it. Found 1.8, 1.0 and 5.8 %; by −μ0 ∇φ
it was 5.5, 5.4 and 8.7 %. At the rod's edges B is singular."""


@pytest.fixture(scope="module")
def off() -> tuple[Array, Array]:
    """|ΔB|/|B| of one rod at draft, nan inside it, and the distance from it, m; both (nz, nx)."""
    case = load_case("bench-single")
    rough, row = solved_case(case, "draft", solver="solid").solution(), solved_case(case, "fine").solution()
    assert isinstance(rough, SolvedSolid)
    assert isinstance(row, SolvedRow)
    cell = row.cells[row.places[0].shape]
    cut, section = slice_record(case, rough), section_record(cell.section, cell.alone)
    outside = section.region < 0
    middle, b = section.points[:, section.triangles].mean(axis=1)[:, outside], section.b[:, outside]
    mirror = np.array([[-1.0], [1.0]])
    both = LinearNDInterpolator(np.concatenate([middle, mirror * middle], axis=1).T,
                                np.concatenate([b, mirror * b], axis=1).T)
    x, z = np.meshgrid(cut.x, cut.z)
    known = both(x, z - row.places[0].face).transpose(2, 0, 1)
    away = np.linalg.norm(cut.b[[0, 2]] - known, axis=0) / np.linalg.norm(known, axis=0)
    return np.where(cut.region < 0, away, np.nan), STEP * distance_transform_edt(cut.region < 0)


@pytest.mark.parametrize(("low", "high", "limit"), [(0.0, 1.0, WHOLE), (2e-3, 1.0, FAR), (0.0, 0.3e-3, AT_FACE)])
def test_air_is_free_of_element_noise(off: tuple[Array, Array], low: float, high: float, limit: float) -> None:
    away, distance = off
    counts = away[(distance > low) & (distance <= high)]
    assert np.sqrt(np.nanmean(counts**2)) < limit
