"""Sheets and 3-D bodies in each other's field, against one axisymmetric solution of both."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from rigs.fields.shapes import BENCH_COIL, rectangle, rod
from rigs.fields.sheets import COVER, DISC, SIGMA, sheet
from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.mesh.solid import solid_mesh
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.geometry.shapes.bodies import Cover, Cylinder, SolidBody
from stringflux.geometry.shapes.row import PartShape, PoleShape
from stringflux.geometry.shapes.symmetry import WHOLE, Symmetry
from stringflux.solver.coil import air as coil_air
from stringflux.solver.constants import MU0
from stringflux.solver.eddy.bodies import SolidBand, solve_band
from stringflux.solver.eddy.numerics import SHIPPED, EddyNumerics
from stringflux.solver.eddy.sheet import Sheet
from stringflux.solver.eddy.sheet_potential import sheet_potential
from stringflux.solver.eddy.sheet_windings import sheet_windings
from stringflux.solver.eddy.sheets_and_bodies import pattern_fields, solve_sheet_band
from stringflux.solver.factor import factor
from stringflux.solver.row.eddy_cell import eddy_mass, skin_depth, skin_quality
from stringflux.solver.section.forms import air_flux, current_load, far_flux
from stringflux.solver.section.space import finer, section
from stringflux.solver.solid.bias import SolidState
from stringflux.solver.solid.charges import unfolded
from stringflux.solver.solid.space import SolidSpace, solid_space

MU, RHO = 100.0, 1.6e-7
SLUG = SolidBody(name="slug", material="steel", form=Cylinder(base=(0.0, 0.0, -17e-3), along=2, length=17e-3,
                                                              radius=2.4e-3))
ABOVE = 5e-3
COIL = replace(BENCH_COIL, turns=1.0)
QUARTER = Symmetry(x=True, y=True)
BAND = np.array([1e-3, 1e3, 5e3, 1e4])


@dataclass(frozen=True)
class Steel:
    """One permeability, and eddy currents."""

    resistivity: float = RHO
    mu_r: float = MU

    def reversible(self, b: Array) -> Array:
        return np.full_like(b, MU)


def meshed(symmetry: Symmetry = QUARTER) -> SolidSpace:
    return solid_space(solid_mesh((SLUG,), SOLID_QUALITIES["draft"], symmetry=symmetry))


def alone(space: SolidSpace, frequency: Array = BAND) -> SolidBand:
    """The slug with its own eddy currents and no sheet."""
    return solve_band(space, [SLUG], {"steel": Steel()}, still(space), [source(space)], frequency)


def still(space: SolidSpace) -> SolidState:
    zero = np.zeros_like(space.bodies[0].points)
    return SolidState(phi=np.zeros(space.unknowns), h=(zero,), b=(zero,), iterations=0)


def source(space: SolidSpace) -> Array:
    return coil_air.field(COIL, space.bodies[0].points)[None] / MU0


def solved(space: SolidSpace, disc: Sheet,
           numerics: EddyNumerics = SHIPPED) -> tuple[SolidBand, ComplexArray]:
    static = alone(space, BAND[:1]).charges[0].real
    return solve_sheet_band(space, [SLUG], {"steel": Steel()}, still(space), [COIL], [source(space)],
                            unfolded(space, static, ((),)), disc, BAND, numerics=numerics)


def added(space: SolidSpace, disc: Sheet) -> ComplexArray:
    """What the disc adds to L (f,) above 0 Hz."""
    return np.asarray((solved(space, disc)[0].inductance - alone(space).inductance)[1:, 0, 0])


def direct(frequency: float, disc: bool) -> tuple[complex, complex]:
    """L_c per turn² and b_z at ABOVE of coil, slug and disc on one axisymmetric mesh."""
    parts = (*rod(material="steel", polarity=0).parts,
             PartShape(material="air", outline=rectangle(3e-3, 7e-3, -13e-3, -2e-3)),
             PartShape(material="brass", outline=rectangle(0, 10e-3, 1e-3, 1.5e-3)))
    depths = [skin_depth(1e4, MU, RHO), 0.5e-3, 0.3e-3]
    s = section(PoleShape(parts=parts), skin_quality(replace(QUALITIES["draft"], far=8, divisions=2), depths))
    K = air_flux.assemble(s.air) + far_flux.assemble(s.far, rho=s.mesh.far_radius)
    K = K + air_flux.assemble(s.parts[0]) / MU + air_flux.assemble(s.parts[1]) + air_flux.assemble(s.parts[2])
    K = K.astype(complex)
    for i, sigma in ((0, 1 / RHO), (2, SIGMA if disc else 0.0)):
        part = finer(s.parts[i])
        K = K + 2j * np.pi * frequency * eddy_mass.assemble(part, sigma=np.full((part.nelems, 1), sigma))
    coil = s.parts[1]
    load = current_load.assemble(coil, J=np.full((coil.nelems, 1), 1 / float(np.sum(coil.dx)))).astype(complex)
    u = factor(K).solve(load)
    return complex(2 * np.pi * (load @ u)), complex(2 * (s.basis.probes(np.array([[1e-9], [ABOVE]])) @ u)[0])


def test_disc_over_a_steel_slug_against_the_axisymmetric_cell() -> None:
    """ΔL_c of the disc within 0.7 %, what it takes from b within 1 %; the currents alone miss that by 13 to 18 %."""
    space, disc, at = meshed(), sheet(DISC), np.array([[0.0], [0.0], [ABOVE]])
    found, psi = solved(space, disc)
    bare_slug = alone(space)
    for i, f in enumerate(BAND[1:], start=1):
        (L, b), (bare, b_bare) = direct(f, disc=True), direct(f, disc=False)
        assert abs((found.inductance - bare_slug.inductance)[i, 0, 0] / (L - bare) - 1) < 0.007
        currents = disc.field(at, psi[i, 0])[2, 0]
        answer = MU0 * unfolded(space, found.charges[i] - bare_slug.charges[i], ((),)).field(at)[0, 2, 0]
        assert abs((currents + answer) / (b - b_bare) - 1) < 0.01
        assert abs(currents / (b - b_bare) - 1) > 0.13


def test_a_disc_off_the_planes_of_symmetry() -> None:
    """What a quarter of the slug leaves out is its answer to the odd part of the patterns: 1 % of ΔL_c, 6 mm off."""
    disc = sheet(replace(DISC, base=(0.0, 6e-3, 1e-3)))
    quarter, whole = (added(meshed(m), disc) for m in (Symmetry(x=True, y=True), WHOLE))
    assert np.all(np.abs(quarter / whole - 1) < 0.015)


@pytest.mark.slow
@pytest.mark.parametrize("form", [DISC, COVER])
def test_b_does_not_hang_on_the_number_of_patterns(form: Cylinder | Cover) -> None:
    """Three or twelve: b over disc and cover within 0.15 %; by the patterns' own ψ 0.7 % at 10 kHz."""
    space, s, b = meshed(), sheet(form), []
    at = 1e-3 * np.array([[0.0, 4, 0, 8], [0, 0, 4, 0], [5, 5, 5, 5]])
    for count in (SHIPPED.patterns, 12):
        band, psi = solved(space, s, EddyNumerics(patterns=count))
        answer = MU0 * unfolded(space, band.charges[:, 0], ((),) * BAND.size).field(at)[:, 2]
        b.append(coil_air.field(COIL, at)[2] + answer + s.field(at, psi[:, 0])[:, 2])
    assert np.abs(b[0] / b[1] - 1).max() < 1.5e-3


def test_a_plate_along_the_field_carries_nothing() -> None:
    disc = sheet(DISC)
    none = np.zeros((1, disc.mesh.inner.size))
    windings = sheet_windings(disc, none, none)
    added, current = windings.with_bodies(BAND, np.zeros((BAND.size, 2, 2), complex))
    assert windings.patterns.shape[1] == 1
    assert not np.any(added)
    assert not np.any(current)


def test_potential_against_the_field() -> None:
    """−∇Ω is the closed-form field, near and far; through the sheet Ω jumps by ψ."""
    for s in (sheet(DISC), sheet(COVER)):
        x, y, _ = s.mesh.points[:, s.mesh.inner]
        psi = np.stack([np.exp(-((x**2 + y**2) / (6e-3) ** 2)), 1 + 50 * x], axis=1)
        points = 1e-3 * np.array([[0.1, 0.3, 0.6], [1, 2, -1], [1, -4, -9], [2, 1, 1.8], [3, 2, 20]]).T
        h = 2e-6
        slope = np.stack([sheet_potential(s, psi, points + h * e) - sheet_potential(s, psi, points - h * e)
                          for e in np.eye(3)[:, :, None]], axis=1) / (2 * h)
        field = s.field(points, psi.T) / MU0
        assert np.abs(slope + field).max() < 2e-3 * np.abs(field).max()
    (middle,) = np.flatnonzero(np.linalg.norm(s.mesh.points[:2, s.mesh.inner], axis=0) < 1e-6)
    lid = s.mesh.points[:, s.mesh.inner][:, middle]
    over, under = (sheet_potential(s, psi, (lid + np.array([0, 0, d]))[:, None])[:, 0] for d in (1e-6, -1e-6))
    assert over - under == pytest.approx(psi[middle], rel=2e-3)


def test_patterns_on_a_quarter_are_those_of_the_whole() -> None:
    """Of a disc of the slug's symmetry; its triangles have not quite the planes of symmetry that the mesh has."""
    s, space = sheet(DISC), meshed()
    x, y, _ = s.mesh.points[:, s.mesh.inner]
    psi = np.exp(-((x**2 + y**2) / (6e-3) ** 2))[:, None]
    (ours,) = pattern_fields(space, s, psi)
    points = space.bodies[0].points
    true = s.field(points.reshape(3, -1), psi.T)[0].reshape(points.shape) / MU0
    weight = space.bodies[0].weight
    assert np.sum((ours[0] - true) ** 2 * weight) < 0.01**2 * np.sum(true**2 * weight)
