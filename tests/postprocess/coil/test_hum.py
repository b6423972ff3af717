"""The hum area against closed forms and by a second route, the flux of a far dipole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigs.fields.bench_rig import bench_row
from rigs.fields.shapes import BENCH_COIL, BENCH_MAGNET, placed, rod, spheroid
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.row import Racetrack
from stringflux.postprocess.coil.hum import HumArea, hum_area, mean_area, moment
from stringflux.solver.coil import air as coil_air
from stringflux.solver.constants import MU0
from stringflux.solver.materials import linear_magnet
from stringflux.solver.materials.signal import AxisPermeability
from stringflux.solver.row.rings import ring_kernel
from stringflux.solver.row.small_signal import SmallSignalCell
from stringflux.solver.row.solve import SolvedRow, solve_row
from stringflux.solver.section.space import section

# A sphere as a polygon of 80 sides; the same tolerance as in the tests of the cell.
POLYGON = 1.5e-3


def test_thin_round_loop() -> None:
    """N π R² of a winding of no build (exact)."""
    R = 5e-3
    loop = Racetrack(inner_radius=R, straight=0, build=1e-9, bottom=-1e-3, top=0, turns=1)
    assert mean_area(loop) == pytest.approx(np.pi * R**2, rel=1e-6)


def test_mean_area_is_the_mean_over_the_window() -> None:
    coil = Racetrack(inner_radius=2.5e-3, straight=50e-3, build=4e-3, bottom=-1e-3, top=0, turns=1)
    rho = np.linspace(2.5e-3, 6.5e-3, 20001)
    assert mean_area(coil) == pytest.approx(np.trapezoid(np.pi * rho**2 + 2 * rho * 50e-3, rho) / 4e-3, rel=1e-8)


def test_coil_far_away_is_a_dipole_of_that_area() -> None:
    """B on the axis of a coil → μ0 m/(2π d³); at 1 m the next term is below 1e-2 of a coil's size squared."""
    coil = replace(BENCH_COIL, turns=100.0, straight=30e-3)
    d = 1.0
    b = coil_air.field(coil, np.array([[0.0], [0.0], [d + (coil.top + coil.bottom) / 2]]))[2, 0]
    assert b == pytest.approx(MU0 * 100 * mean_area(coil) / (2 * np.pi * d**3), rel=2e-3)


@pytest.mark.parametrize("mu", [4.0, 200.0])
def test_moment_of_a_sphere(mu: float) -> None:
    """Permeable sphere in a uniform H₀: moment 4π R³ (μ−1)/(μ+2) H₀ (exact), in both directions at once."""
    R, H = 3e-3, (2.0, -1.0)  # along y and z
    s = section(spheroid(R, R), QUALITIES["normal"])
    cell = SmallSignalCell(section=s, mu=(AxisPermeability(along=mu, across=mu),))
    z = s.nodes[1, s.pole]
    q = np.stack([cell.order(0).charges(-H[1] * z), cell.order(1).charges(np.full_like(z, -H[0]))])
    expected = 4 * np.pi * R**3 * (mu - 1) / (mu + 2)
    assert moment(s, q) == pytest.approx(expected * np.array([0.0, *H]), rel=POLYGON)


def _off_centre() -> SolvedRow:
    """Two unlike poles in a race-track: the moment of the poles leans sideways."""
    coil = Racetrack(inner_radius=3e-3, straight=12e-3, build=4e-3, bottom=-13e-3, top=-2e-3, turns=100)
    places = [placed(rod(), y=-5e-3), placed(rod(1.6e-3, 9e-3, material="soft"), y=6e-3, face=0.5e-3)]
    soft = linear_magnet(name="soft", remanence=0.2, mu_recoil=20.0, mu_transverse=20.0)
    return solve_row(places, coil, {"bench": BENCH_MAGNET, "soft": soft}, quality=QUALITIES["draft"],
                     history="after", band=(1.5e-3, 5e-3))


@pytest.mark.parametrize("direction", [(0.0, 0.0, 1.0), (0.0, 0.6, 0.8), (0.0, 1.0, 0.0)])
def test_flux_of_a_far_dipole(direction: tuple[float, float, float]) -> None:
    """Reciprocity: a dipole far off links m·b(there) with the coil, b = coil and poles at one ampere, and
    that is A·B of its field at the pickup. Field of the poles from their rings of charge."""
    row = _off_centre()
    far = np.array([0.0, 0.9, 1.2])
    m = np.array(direction)
    b = row.field.of_coil(far[:, None])[:, 0]
    for place, charges in zip(row.places, row.signal.charges, strict=True):
        cells = row.cells[place.shape]
        q = np.stack([cells.far.spread[i].T @ c for i, c in enumerate(charges)])
        r, z = far[1] - place.y, far[2] - place.face
        kernel = ring_kernel(np.array([r]), np.array([z]), cells.far.r, cells.far.z, len(q), 64)[:, :, 0]
        h = np.einsum("mck,mk->c", kernel, q) / (4 * np.pi)
        b += row.field.turns * MU0 * np.array([0.0, h[1], h[2]])
    d = float(np.linalg.norm(far))
    e = -far / d
    at_pickup = MU0 / (4 * np.pi * d**3) * (3 * (m @ e) * e - m)
    # the pickup's own size against the distance: (10 mm / 1.5 m) on its place
    assert hum_area(row).total @ at_pickup == pytest.approx(m @ b, rel=2e-2, abs=2e-3 * float(np.linalg.norm(b)))


def test_poles_add_to_the_turns_and_windings_can_be_reversed() -> None:
    area = hum_area(bench_row())
    assert area.turns[2] == pytest.approx(mean_area(BENCH_COIL))
    # a rod of 2.4 mm by 17 mm and μr 4 in the bore: tens of percent (computed, not a published value)
    assert 0.1 < area.poles[2] / area.turns[2] < 1.0
    back = hum_area(bench_row().wound(-100.0))
    assert back.total == pytest.approx(-100 * area.total)


def test_voltage_of_a_vector_and_of_the_worst_direction() -> None:
    """V = 2π f B Σ N A (exact)."""
    area = HumArea(turns=np.array([0.0, 0.0, 0.4]), poles=np.array([0.0, 0.3, 0.0]))
    assert area.voltage(1e-6, 50.0) == pytest.approx(2 * np.pi * 50 * 0.5e-6)
    assert area.voltage(np.array([1e-6, 0.0, 0.0]), 50.0) == 0.0
    assert area.voltage(np.array([0.0, 0.0, 1e-6]), 60.0) == pytest.approx(2 * np.pi * 60 * 0.4e-6)
