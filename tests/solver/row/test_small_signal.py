"""Small-signal cells against exact bodies and the laws they must keep."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.fields.meshed_coil import meshed_inductance
from rigs.fields.shapes import BENCH_COIL, rectangle, rod, spheroid
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.row import PartShape, PlacedPole, PoleShape
from stringflux.solver.coil import air as coil_air
from stringflux.solver.constants import MU0
from stringflux.solver.factor import factor
from stringflux.solver.materials.signal import AxisPermeability
from stringflux.solver.row.coil_on_pole import coil_potentials
from stringflux.solver.row.rings import far_rings, near_rings, ring_potential
from stringflux.solver.row.small_signal import SmallSignalCell
from stringflux.solver.row.solve import pole_inductance
from stringflux.solver.section.forms import air_flux, current_load, far_flux, potential_form
from stringflux.solver.section.operators import point_operators, potential_matrix
from stringflux.solver.section.space import section

FINE = QUALITIES["fine"]


def cell(shape: PoleShape, mu: float, quality: str = "fine") -> SmallSignalCell:
    n = len(shape.parts)
    both = AxisPermeability(along=mu, across=mu)
    return SmallSignalCell(section=section(shape, QUALITIES[quality]), mu=(both,) * n)


@pytest.mark.parametrize("mu", [4.0, 200.0])
def test_sphere_along_the_axis(mu: float) -> None:
    """Permeable sphere in H₀: moment 4π R³ (μ−1)/(μ+2) H₀ (exact)."""
    R = 3e-3
    c = cell(spheroid(R, R), mu)
    z = c.section.nodes[1, c.section.pole]
    q = c.order(0).charges(-z)  # φ = −H₀ z with H₀ = 1
    assert 2 * np.pi * q @ z == pytest.approx(4 * np.pi * R**3 * (mu - 1) / (mu + 2), rel=1.5e-3)


@pytest.mark.parametrize("mu", [4.0, 200.0])
def test_sphere_across_the_axis(mu: float) -> None:
    """The same sphere, field along y: φ = −r cos α, that is v = −1 in order 1."""
    R = 3e-3
    c = cell(spheroid(R, R), mu)
    r = c.section.nodes[0, c.section.pole]
    q = c.order(1).charges(-np.ones_like(r))
    assert np.pi * np.sum(q) == pytest.approx(4 * np.pi * R**3 * (mu - 1) / (mu + 2), rel=1.5e-3)


def test_long_cylinder_across() -> None:
    """Cylinder across H₀: M = 2(μ−1)/(μ+1) H₀ (exact), held in the middle of a rod of 20 diameters."""
    R, L, mu = 1e-3, 40e-3, 50.0
    c = cell(rod(R, L, polarity=0), mu, "normal")
    s = c.section
    ones = np.full(s.pole.size, -1.0)
    v = s.basis.zeros()
    v[s.pole] = ones
    v = v + c.order(1).potential(ones)
    points = s.parts[0]
    grad = points.interpolate(v)
    x = np.asarray(points.global_coordinates())
    middle = np.abs(x[1] + L / 2) < 4e-3
    H = -(np.asarray(grad) + x[0] * np.asarray(grad.grad[0]))  # ∂_r (r v)
    assert np.mean((mu - 1) * H[middle]) == pytest.approx(2 * (mu - 1) / (mu + 1), rel=2e-3)


@pytest.mark.parametrize("m", [0, 1, 2])
def test_answer_is_symmetric_and_dissipates_nothing(m: int) -> None:
    """Reciprocity: v₁·q(v₂) = v₂·q(v₁); and the answer opposes the drive (q·v ≤ 0)."""
    c = cell(rod(), 30.0, "draft")
    rng = np.random.default_rng(m)
    v = rng.normal(size=(c.section.pole.size, 2))
    q = c.order(m).charges(v)
    assert v[:, 0] @ q[:, 1] == pytest.approx(v[:, 1] @ q[:, 0], rel=1e-9)
    assert np.sum(v[:, 0] * q[:, 0]) < 0


def test_rings_carry_potentials_exactly_enough() -> None:
    """A point charge's potential, handed over by the rings, against its values at the unknowns."""
    s = section(rod(), QUALITIES["normal"])
    r, z = s.nodes[:, s.pole]
    above, beside = (2.0e-3, 1.0e-3), (8e-3, -4e-3)  # a string's charge; a neighbour's
    for rings, (source_r, source_z), orders in ((near_rings(s), above, 3), (far_rings(s), beside, 2)):
        source = (np.array([source_r]), np.array([source_z]))
        for m in range(orders):
            direct = ring_potential(r, z, *source, 3, 60)[m, :, 0]
            at_rings = ring_potential(rings.r, rings.z, *source, 3, 60)[m, :, 0]
            handed = rings.spread[m] @ at_rings * r**m
            assert np.max(np.abs(handed - direct)) < 2e-4 * np.max(np.abs(direct))


def test_coil_potential_has_the_coils_field() -> None:
    """−μ0 ∂φ/∂z of the handed-over potential is b_z of the coil on the axis (finite differences)."""
    s = section(rod(), QUALITIES["normal"])
    pole = PlacedPole(y=0.0, face=0.0, shape=rod())
    v = coil_potentials(BENCH_COIL, pole, s, 2)
    on_axis = np.abs(s.nodes[0, s.pole]) < 1e-9
    z, phi = s.nodes[1, s.pole][on_axis], v[0][on_axis]
    order = np.argsort(z)
    z, phi = z[order], phi[order]
    middle, slope = (z[1:] + z[:-1]) / 2, -MU0 * np.diff(phi) / np.diff(z)
    b = coil_air.field(BENCH_COIL, np.stack([0 * middle, 0 * middle, middle]))[2]
    assert np.max(np.abs(slope - b)) < 2e-3 * np.max(b)
    assert np.max(np.abs(v[1])) < 1e-6 * np.max(np.abs(v[0])) / 1e-3  # a round coil has no order 1


def test_two_routes_to_the_inductance() -> None:
    """Closed-form air coil + ∫ M·b against the coil meshed in the flux form: two formulations, one L."""
    coil = PartShape(material="air", outline=rectangle(3e-3, 7e-3, -13e-3, -2e-3))
    meshed = section(PoleShape(parts=(*rod().parts, coil)), FINE)
    direct = meshed_inductance(meshed, [4.0, 1.0], 1)
    c = cell(rod(), 4.0)
    v = coil_potentials(BENCH_COIL, PlacedPole(y=0.0, face=0.0, shape=rod()), c.section, 2)
    q = np.stack([c.order(m).charges(v[m]) for m in range(2)])
    ours = coil_air.inductance(BENCH_COIL) + pole_inductance([q], [v])
    assert ours == pytest.approx(direct, rel=1e-3)
    assert ours == pytest.approx(7.132e-9, rel=3e-3)  # independent 3-D solve, edge elements


def test_energy_is_half_L_I_squared() -> None:
    """½ ∫ B·H dV by points over the whole mesh and beyond the far sphere = ½ L I² of the meshed coil at 1 A."""
    coil = PartShape(material="air", outline=rectangle(3e-3, 7e-3, -13e-3, -2e-3))
    s = section(PoleShape(parts=(*rod().parts, coil)), QUALITIES["normal"])
    basis = s.parts[1]
    K = air_flux.assemble(s.air) + air_flux.assemble(s.parts[0]) / 4.0 + air_flux.assemble(basis)
    K = K + far_flux.assemble(s.far, rho=s.mesh.far_radius)
    u = factor(K).solve(current_load.assemble(basis, J=np.full((basis.nelems, 1), 1 / float(np.sum(basis.dx)))))
    energy = 0.0
    for part, mu in ((s.air, 1.0), (s.parts[0], 4.0), (basis, 1.0)):
        points = point_operators(part)
        B = points.field(points.curl, u)
        energy += np.pi * float(np.sum(points.weight * np.sum(B**2, axis=0).ravel())) / (mu * MU0)
    A = s.far.interpolate(u)
    r = np.asarray(s.far.global_coordinates())[0]
    # outside the sphere a dipole's energy is ½ ∮ A H_t dS with H_t = A/(μ0 ρ)
    energy += np.pi * float(np.sum((r * np.asarray(A)) ** 2 * r * s.far.dx)) / (MU0 * s.mesh.far_radius)
    assert energy == pytest.approx(0.5 * meshed_inductance(s, [4.0, 1.0], 1), rel=1e-9)


@pytest.mark.parametrize("m", [0, 1, 2])
def test_quick_assembly_is_the_weak_form(m: int) -> None:
    s = section(rod(), QUALITIES["draft"])
    mu_t, mu_z = np.full((s.basis.nelems, 1), 2.0), np.linspace(1, 3, s.basis.nelems)[:, None]
    form = potential_form(m).assemble(s.basis, mu_t=mu_t, mu_z=mu_z)
    quick = potential_matrix(s.basis, m, mu_t, mu_z)
    assert abs(form - quick).max() < 1e-12 * abs(form).max()
