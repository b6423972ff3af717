"""Eddy currents in thin sheets against exact solutions and our own axisymmetric cell."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import j1

from rigs.fields.meshed_coil import complex_inductance
from rigs.fields.shapes import BENCH_COIL, BENCH_RADIUS, placed, rectangle, rod
from rigs.fields.sheets import COVER, DISC, SIGMA, T, sheet
from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.bodies import Box
from stringflux.geometry.shapes.row import PartShape, PoleShape, Racetrack
from stringflux.solver.coil import air as coil_air
from stringflux.solver.constants import MU0
from stringflux.solver.eddy.sheet import Sheet
from stringflux.solver.eddy.sheet_mesh import is_sheet, sheet_mesh
from stringflux.solver.eddy.sheet_windings import sheet_windings
from stringflux.solver.interpolation import chebyshev, gauss, lagrange
from stringflux.solver.materials.signal import AxisPermeability
from stringflux.solver.row.eddy_cell import EddyCell, skin_depth, skin_quality
from stringflux.solver.row.impedance import _coil_u
from stringflux.solver.section.space import section
from stringflux.solver.triangle_potential import gradient, on_itself, potential

BAND = np.array([1e3, 5e3, 1e4])




def of_coil(coil: Racetrack) -> Callable[[Array], Array]:
    return lambda p: coil_air.field(coil, p)


def uniform(p: Array) -> Array:
    return np.stack([0 * p[0], 0 * p[0], np.ones_like(p[0])])


def test_triangles() -> None:
    """Closed forms against sums over a fine cut of the triangle, and the gradient against differences."""
    corners = np.array([[0.3, 0.1, 0.2], [1.4, 0.2, -0.3], [0.4, 1.1, 0.5]])
    n = 60
    i, j = np.meshgrid(np.arange(n), np.arange(n), indexing="ij")
    up = np.stack([i + 1 / 3, j + 1 / 3])[:, i + j < n] / n
    down = np.stack([i + 2 / 3, j + 2 / 3])[:, i + j < n - 1] / n
    s, t = np.hstack([up, down])
    points = corners[0][:, None] * (1 - s - t) + corners[1][:, None] * s + corners[2][:, None] * t
    area = np.linalg.norm(np.cross(corners[1] - corners[0], corners[2] - corners[0])) / 2
    p = np.array([1.2, 0.9, 0.7])
    assert potential(p, corners) == pytest.approx(area * np.mean(1 / np.linalg.norm(points - p[:, None], axis=0)),
                                                  rel=1e-4)
    h = 1e-5
    slope = [(potential(p + h * e, corners) - potential(p - h * e, corners)) / (2 * h) for e in np.eye(3)]
    assert gradient(p, corners) == pytest.approx(np.array(slope), rel=1e-7)
    assert on_itself(corners) == pytest.approx(area * np.mean(potential(points, corners[:, :, None])), rel=1e-3)


def test_disc_in_a_slow_uniform_field() -> None:
    """Loss π σ t ω² B² a⁴/16 of the peak B (exact while the currents' own field is small), nearer on a finer mesh."""
    a, w = DISC.radius, 2 * np.pi
    error = []
    for cells in (60, 240):
        s = sheet(DISC, cells)
        added = s.added_inductance(np.array([1.0]), s.flux(uniform)[None])[0, 0, 0]
        loss = -0.5 * w * added.imag
        error.append(1 - loss / (np.pi * SIGMA * T * w**2 * a**4 / 16))
    assert 0 < error[1] < 0.006
    assert error[0] / error[1] > 3.0  # second order: 4


def test_endless_sheet_over_a_loop() -> None:
    """Reflection coefficient r = jωμ0σt/(2k + jωμ0σt): ΔL = −π μ0 a² ∫ J₁(ka)² e^(−2kh) r dk.

    A plate three times as wide as the field lacks what flows beyond it; 2.5 % is that and the mesh of 2 mm.
    """
    a, h, thin = 5e-3, 4e-3, 1e-6
    sigma = 7500.0 / thin  # σt of half a millimetre of brass, without its thickness
    loop = Racetrack(inner_radius=a - 5e-5, straight=0, build=1e-4, bottom=-5e-5, top=5e-5, turns=1)
    plate = Box(low=(-30e-3, -30e-3, h - thin / 2), high=(30e-3, 30e-3, h + thin / 2))
    s = sheet(plate, 900, sigma)
    ours = s.added_inductance(np.array([3e3, 2e4, 1e8]), s.flux(of_coil(loop))[None])[:, 0, 0]
    for f, value in zip((3e3, 2e4, 1e8), ours, strict=True):
        assert abs(value / _reflected(a, h, 2 * np.pi * f * MU0 * 7500.0) - 1) < 0.025
    image = -2 * np.pi * a * coil_air.vector_potential(loop, np.array([[a], [0.0], [2 * h]]))[1, 0]
    assert ours[2] == pytest.approx(image, rel=0.005)  # a perfect conductor mirrors the coil


def _reflected(a: float, h: float, x: float) -> complex:
    def part(k: float) -> complex:
        return -np.pi * MU0 * a**2 * j1(k * a) ** 2 * np.exp(-2 * k * h) * 1j * x / (2 * k + 1j * x)

    return complex(quad(part, 0, 30 / h, complex_func=True, limit=400)[0])


def test_disc_over_a_coil_against_the_axisymmetric_cell() -> None:
    """A brass disc of 0.5 mm over the bench coil, meshed with its thickness: 0.5 % of ΔL_c over the band."""
    parts = (PartShape(material="air", outline=rectangle(3e-3, 7e-3, -13e-3, -2e-3)),
             PartShape(material="brass", outline=rectangle(0, 10e-3, 1e-3, 1.5e-3)))
    fine = skin_quality(replace(QUALITIES["draft"], far=8, divisions=2), [0.5e-3, 0.3e-3])
    mesh = section(PoleShape(parts=parts), fine)
    still = complex_inductance(mesh, [1.0, 1.0], 0)
    s = sheet(DISC)
    ours = s.added_inductance(BAND, s.flux(of_coil(BENCH_COIL))[None])[:, 0, 0]
    for f, value in zip(BAND, ours, strict=True):
        direct = complex_inductance(mesh, [1.0, 1.0], 0, [0.0, SIGMA], f) - still
        assert abs(value / direct - 1) < 0.006


def test_disc_over_a_steel_pole_against_the_axisymmetric_cell() -> None:
    """With the steel's answer to the sheet's patterns 1.5 % of ΔL_c; with b of coil and pole alone up to 10 %."""
    mu, sigma = 100.0, 1 / 1.6e-7
    pole = rod(material="steel", polarity=0)
    parts = (*pole.parts, PartShape(material="air", outline=rectangle(3e-3, 7e-3, -13e-3, -2e-3)),
             PartShape(material="brass", outline=rectangle(0, 10e-3, 1e-3, 1.5e-3)))
    depths = [skin_depth(1e4, mu, 1 / sigma), 0.5e-3, 0.3e-3]
    mesh = section(PoleShape(parts=parts), skin_quality(replace(QUALITIES["draft"], far=8, divisions=2), depths))
    s = sheet(DISC)
    cell_section = section(pole, skin_quality(QUALITIES["draft"], [depths[0]]))
    cell = EddyCell(section=cell_section, mu=(AxisPermeability(along=mu, across=mu),), conductivity=(sigma,))
    air = s.flux(of_coil(BENCH_COIL))[None]
    coil_u = _coil_u(BENCH_COIL, placed(pole), cell_section)
    every = _sheet_u(s, cell_section.nodes[:, cell_section.pole])
    windings = sheet_windings(s, air, air + 2 * np.pi * every @ cell.at(0.0).currents(coil_u).real)
    u = np.concatenate([coil_u[None], windings.patterns.T @ every])
    for f in BAND[[0, 2]]:
        at = cell.at(f)
        added = 2 * np.pi * np.stack([at.currents(own) for own in u]) @ u.T
        direct = (complex_inductance(mesh, [mu, 1.0, 1.0], 1, [sigma, 0.0, SIGMA], f)
                  - complex_inductance(mesh, [mu, 1.0, 1.0], 1, [sigma, 0.0, 0.0], f))
        value, _ = windings.with_bodies(np.array([f]), added[None])
        assert abs(value[0, 0, 0] / direct - 1) < 0.015
        once = s.added_inductance(np.array([f]), air + 2 * np.pi * every @ at.currents(coil_u))
        assert abs(value[0, 0, 0] / direct - 1) < abs(once[0, 0, 0] / direct - 1) < 0.1


def _sheet_u(s: Sheet, nodes: Array) -> Array:
    """A_φ/r of every unknown of the sheet at the pole's nodes, from the mean B_z round the axis."""
    r, z = nodes
    heights = [chebyshev(-17e-3, -6e-3, 8), chebyshev(-6e-3, 0.0, 12)]
    angle, k = (np.arange(6) + 0.5) * np.pi / 3, np.arange(4)
    radii = BENCH_RADIUS * np.cos((2 * k + 1) * np.pi / 16)
    out = np.zeros((s.mesh.inner.size, r.size))
    for h, mine in zip(heights, (z <= -6e-3, z > -6e-3), strict=True):
        R, Z, A = np.meshgrid(radii, h, angle, indexing="ij")
        points = np.stack([R * np.cos(A), R * np.sin(A), Z]).reshape(3, -1)
        bz = s.field_operator(points)[2].T.reshape(-1, *R.shape).mean(-1)
        c = np.linalg.solve(radii[:, None] ** (2 * k), bz)
        out[:, mine] = np.einsum("nk,wkl,nl->wn", r[mine, None] ** (2 * k) / (2 * k + 2), c,
                                 lagrange(h, z[mine]), optimize=True)
    return out


def test_currents_oppose_and_lose() -> None:
    """A cover about the bench coil: L falls and loss is above 0 at every frequency, L the more the higher it is."""
    s = sheet(COVER)
    f = np.geomspace(20.0, 2e5, 9)
    added = s.added_inductance(f, s.flux(of_coil(BENCH_COIL))[None])[:, 0, 0]
    assert np.all(np.diff(added.real) < 0)
    assert np.all(added.real < 0)
    assert np.all(added.imag < 0)
    assert np.all(s.modes[0] > 0)
    assert added[-1].real > -coil_air.inductance(BENCH_COIL)


def test_the_flux_through_a_coil_is_what_its_field_drives() -> None:
    """∫ ψ b_coil·n dS over the sheet equals the flux of the sheet's own field through the turns (a thin loop)."""
    a = 5e-3
    loop = Racetrack(inner_radius=a - 1e-5, straight=0, build=2e-5, bottom=-4e-3 - 1e-5, top=-4e-3 + 1e-5, turns=1)
    s = sheet(COVER)
    flux = s.flux(of_coil(loop))
    psi = s.currents(np.array([5e3]), flux[None])[0, 0]
    g, wg = gauss(8)
    angle = np.arange(24) * 2 * np.pi / 24
    R, A = np.meshgrid(a * g, angle, indexing="ij")
    points = np.stack([R * np.cos(A), R * np.sin(A), np.full_like(R, -4e-3)]).reshape(3, -1)
    through = np.sum(s.field(points, psi)[2].reshape(R.shape).mean(1) * 2 * np.pi * a * g * a * wg)
    assert through == pytest.approx(complex(flux @ psi), rel=2e-3)


def test_two_coils_are_reciprocal_and_frequencies_may_have_their_own_flux() -> None:
    s = sheet(COVER, 200)
    other = replace(BENCH_COIL, y_centre=3e-3, inner_radius=2e-3, build=2e-3)
    flux = np.stack([s.flux(of_coil(BENCH_COIL)), s.flux(of_coil(other))])
    added = s.added_inductance(BAND, flux)
    assert added[:, 0, 1] == pytest.approx(added[:, 1, 0], rel=1e-10)
    assert s.added_inductance(BAND, np.stack([flux, 2 * flux, 1j * flux])) == pytest.approx(
        added * np.array([1, 4, -1])[:, None, None])


def test_patterns_without_bodies_are_the_sheet() -> None:
    """Second order in what three patterns miss."""
    s = sheet(COVER)
    flux = s.flux(of_coil(BENCH_COIL))[None]
    w = sheet_windings(s, flux, flux)
    n = 1 + w.patterns.shape[1]
    ours, _ = w.with_bodies(BAND, np.zeros((3, n, n), complex))
    assert ours == pytest.approx(s.added_inductance(BAND, flux), rel=2e-3)
    own = w.patterns.T @ s.inductance @ w.patterns
    assert own == pytest.approx(w.inductance, rel=1e-6, abs=1e-9 * own.max())


def test_a_cover_is_one_surface() -> None:
    """Euler's number of a disc, 1; its area; every normal points out."""
    mesh = sheet_mesh([COVER], 300)
    t = np.sort(np.hstack([mesh.triangles[[0, 1]], mesh.triangles[[1, 2]], mesh.triangles[[2, 0]]]), axis=0)
    edges = np.unique(t, axis=1).shape[1]
    assert mesh.points.shape[1] - edges + mesh.triangles.shape[1] == 1
    area, normal = sheet(COVER, 300).area_normal
    side, height = 19.5e-3, 15.25e-3
    assert area.sum() == pytest.approx(side**2 + 4 * side * height)
    centre = mesh.points[:, mesh.triangles].mean(1) - np.array([[0.0], [0.0], [-8e-3]])
    assert np.all(np.sum(normal * centre, axis=0) > 0)


def test_only_thin_bodies_are_sheets() -> None:
    bar = Box(low=(0.0, 0.0, 0.0), high=(3e-3, 4e-3, 50e-3))
    assert not is_sheet(bar)
    with pytest.raises(CaseError, match="3 mm thick cannot be taken as a sheet"):
        sheet_mesh([bar])
