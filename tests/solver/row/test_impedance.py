"""Impedance of the coil with conducting poles."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigs.fields.meshed_coil import complex_inductance
from rigs.fields.shapes import BENCH_COIL, BENCH_MAGNET, placed, rectangle, rod
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.row import PartShape, PoleShape, Racetrack
from stringflux.solver.constants import MU0
from stringflux.solver.materials import ConstantPermeability
from stringflux.solver.row.eddy_cell import skin_depth
from stringflux.solver.row.impedance import _current_link, row_impedance
from stringflux.solver.row.rings import Rings
from stringflux.solver.row.solve import SolvedRow, solve_row
from stringflux.solver.section.space import section

STEEL = ConstantPermeability(name="steel", mu_r=100.0, resistivity=1.6e-7)
ROD = replace(BENCH_MAGNET, resistivity=47e-8)
OVER = np.array([[0.0], [0.0], [3e-3]])


def single(material: str, body: object) -> SolvedRow:
    return solve_row([placed(rod(material=material, polarity=0 if material == "steel" else 1))], BENCH_COIL,
                     {material: body}, quality=QUALITIES["normal"], history="after", band=(1e-3, 6e-3))


@pytest.mark.slow
@pytest.mark.parametrize(("material", "body"), [("steel", STEEL), ("bench", ROD)])
def test_against_the_coil_meshed_with_its_pole(material: str, body: object) -> None:
    """Closed-form coil + ring currents against one fine time-harmonic solve with the coil in the mesh: L₀ − L and
    R_e within 0.2 %. On a mesh with draft's air beside the pole they were 0.4 to 1.1 % small."""
    f = [200.0, 1e3, 1e4]
    z = row_impedance(single(material, body), {material: body}, f)
    mu, sigma = [body.mu_r if body is STEEL else 4.0, 1.0], [1 / body.resistivity, 0.0]  # type: ignore[attr-defined]
    coil = PartShape(material="air", outline=rectangle(3e-3, 7e-3, -13e-3, -2e-3))
    quality = replace(QUALITIES["fine"], surface=(skin_depth(1e4, mu[0], 1 / sigma[0]) / 2, 0.0))
    s = section(PoleShape(parts=(*rod().parts, coil)), quality)
    still = complex_inductance(s, mu, 1)
    for fi, value in zip(f, z.inductance - z.static, strict=True):
        direct = complex_inductance(s, mu, 1, sigma, fi) - still
        assert value.real / direct.real == pytest.approx(1, abs=2e-3)
        assert value.imag / direct.imag == pytest.approx(1, abs=2e-3)


@pytest.mark.parametrize("apart", [10e-3, 7e-3, 5.5e-3])
def test_links_of_ring_currents(apart: float) -> None:
    """Against Neumann's integral with ten times the points: with eight for all, a row 7 mm apart (∅ 4.8 mm) had 5 %
    less inductance to lose."""
    pole, other = placed(rod(polarity=0)), placed(rod(polarity=0), y=apart)
    ring = Rings(r=np.array([0.5e-3, 1.5e-3, 2.35e-3]), z=np.array([-1e-3, -2e-3, -4e-3]), spread=())
    found = _current_link(pole, ring, other, ring)
    a, b = (np.arange(400) + shift for shift in (0.0, 0.5))
    a, b = 2 * np.pi * a / 400, 2 * np.pi * b / 400
    for k in range(3):
        for j in range(3):
            dx = ring.r[k] * np.sin(a[:, None]) - ring.r[j] * np.sin(b)
            dy = ring.r[k] * np.cos(a[:, None]) - ring.r[j] * np.cos(b) - apart
            mean = np.mean(np.cos(a[:, None] - b) / np.sqrt(dx**2 + dy**2 + (ring.z[k] - ring.z[j]) ** 2))
            assert found[k, j] == pytest.approx(MU0 / 2 * mean / (ring.r[k] * ring.r[j]), rel=1e-3)


def test_steel_loses_its_inductance_over_the_band() -> None:
    """Eddies in steel poles alone take L to about 0.62 of its static value at 10 kHz, and b at a string 3 mm up
    falls by 2–3 dB at 3 kHz and 4–5 dB at 10 kHz (an independent computation of this rig, μr 100). A whole
    pickup with covers can lose 70 % (a published talk on guitar electronics, 2020), so more than this."""
    z = row_impedance(single("steel", STEEL), {"steel": STEEL}, [3e3, 1e4], OVER)
    assert z.inductance[1].real / z.static == pytest.approx(0.62, abs=0.02)
    fall = -20 * np.log10(np.abs(z.attenuation[0]))
    assert 2.0 < fall[0] < 3.0
    assert 3.7 < fall[1] < 5.0


def test_alnico_hardly_loses_any() -> None:
    """0.7–0.8 dB of b at 10 kHz (the same independent computation)."""
    z = row_impedance(single("bench", ROD), {"bench": ROD}, [1e4], OVER)
    assert -20 * np.log10(abs(z.attenuation[0, 0])) == pytest.approx(0.75, abs=0.1)
    assert 0.9 < z.inductance[0].real / z.static < 0.95


def test_resistance_grows_as_frequency_squared_while_the_skin_is_thick() -> None:
    z = row_impedance(single("bench", ROD), {"bench": ROD}, [20.0, 200.0])
    R = -2 * np.pi * z.frequency * z.inductance.imag
    assert R[1] / R[0] == pytest.approx(100, rel=5e-3)


def test_a_row_couples_and_its_fit_is_good() -> None:
    """Three slugs in a race-track: the poles share the eddies; the fit between frequencies is within 0.5 %."""
    coil = Racetrack(inner_radius=3e-3, straight=20e-3, build=4e-3, bottom=-13e-3, top=-2e-3, turns=1000)
    poles = [placed(rod(material="steel", polarity=0), y=y) for y in (-10e-3, 0.0, 10e-3)]
    row = solve_row(poles, coil, {"steel": STEEL}, quality=QUALITIES["draft"], history="after", band=(1e-3, 6e-3))
    z = row_impedance(row, {"steel": STEEL}, np.geomspace(20.0, 20e3, 9))
    assert z.inductance[0].real == pytest.approx(row.inductance, rel=2e-3)
    assert np.all(np.diff(z.inductance.real) < 0)
    assert np.all(z.inductance.imag < 0)
    between = z.at(np.array([777.0])).inductance[0]
    exact = row_impedance(row, {"steel": STEEL}, [777.0]).inductance[0]
    assert abs(between / exact - 1) < 5e-3
