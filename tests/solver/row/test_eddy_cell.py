"""Eddy currents in one pole against exact solutions, and conservation of power."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import jv

from rigs.fields.shapes import rod
from stringflux.geometry.mesh.pole import Quality
from stringflux.solver.constants import MU0
from stringflux.solver.materials.signal import AxisPermeability
from stringflux.solver.row.eddy_cell import EddyCell, skin_depth, skin_quality
from stringflux.solver.section.space import section

R, L = 1.5e-3, 60e-3


def cell(mu: float, sigma: float, frequency: float) -> EddyCell:
    base = Quality(divisions=4, growth=0.25, far=4)
    q = skin_quality(base, [skin_depth(frequency, mu, 1 / sigma)])
    s = section(rod(R, L, polarity=0), q)
    return EddyCell(section=s, mu=(AxisPermeability(along=mu, across=mu),), conductivity=(sigma,))


@pytest.mark.parametrize(("mu", "frequency"), [(1.0, 2e3), (1.0, 5e4), (20.0, 1e3), (20.0, 2e4)])
def test_conducting_cylinder_in_a_long_solenoid(mu: float, frequency: float) -> None:
    """Exact (Bessel functions): flux/(μ H_s π R²) = 2 J₁(kR)/(kR J₀(kR)), k² = −jωμσ, H_s on the surface.

    A long rod in a uniform field; the ratio is taken in the middle, where the field is that of a solenoid.
    """
    sigma = 6e6
    c = cell(mu, sigma, frequency)
    s = c.section
    u_ext = np.full(s.pole.size, 0.5)  # B_ext = 1 T
    u = c.at(frequency).total(u_ext)
    u[s.pole] += u_ext
    # flux through the disc of radius R in the middle, and B just outside: both from u at the surface
    r, z = s.nodes
    middle = np.abs(z + L / 2) < 3e-3
    on = middle & (np.abs(r - R) < 1e-9)
    flux = 2 * np.pi * R**2 * np.mean(u[on])
    basis = s.parts[0]
    x = np.asarray(basis.global_coordinates())
    field = basis.interpolate(u.real), basis.interpolate(u.imag)
    bz = sum(f * (2 * np.asarray(v) + x[0] * np.asarray(v.grad[0])) for f, v in zip((1, 1j), field, strict=True))
    near = (np.abs(x[1] + L / 2) < 3e-3)
    k = np.sqrt(-2j * np.pi * frequency * MU0 * mu * sigma)
    # B inside goes as J₀(kr): project to find the surface value
    shape = jv(0, k * x[0][near]) / jv(0, k * R)
    surface = np.sum(bz[near] * shape.conj()) / np.sum(np.abs(shape) ** 2)
    exact = 2 * jv(1, k * R) / (k * R * jv(0, k * R))
    assert abs(flux / (surface * np.pi * R**2) / exact - 1) < 5e-3


def test_losses_are_the_power_taken_from_the_source() -> None:
    """ω Im of the reaction energy equals ∫ σ ω² |A|² dV over the pole: conservation of power."""
    mu, sigma, f = 50.0, 6e6, 5e3
    c = cell(mu, sigma, f)
    s = c.section
    u_ext = np.full(s.pole.size, 0.5)
    answer = c.at(f)
    g = answer.currents(u_ext)
    u = answer.total(u_ext)
    u[s.pole] += u_ext
    w = 2 * np.pi * f
    taken = -w * float(np.imag(2 * np.pi * g @ u_ext))
    _, mass = c._extra
    lost = 2 * np.pi * w**2 * float(np.real(u.conj() @ (mass @ u)))
    assert taken == pytest.approx(lost, rel=1e-9)


def test_static_limit_is_the_scalar_cell() -> None:
    """At 0 Hz the flux form and the potential form magnetise the rod alike: Σ moment in a uniform field."""
    from stringflux.solver.row.small_signal import SmallSignalCell

    mu = 30.0
    s = section(rod(R, 10 * R, polarity=0), Quality(divisions=8, growth=0.12, far=5))
    c = EddyCell(section=s, mu=(AxisPermeability(along=mu, across=mu),), conductivity=(6e6,))
    g = c.at(0.0).currents(np.full(s.pole.size, 0.5)).real
    moment = np.pi * np.sum(g)  # Σ I π r², g = r² I
    z = s.nodes[1, s.pole]
    q = SmallSignalCell(section=s, mu=(AxisPermeability(along=mu, across=mu),)).order(0).charges(-z / MU0)
    assert moment == pytest.approx(2 * np.pi * q @ z, rel=5e-3)


def test_skin_depth() -> None:
    """Copper at 50 Hz, 9.35 mm (handbook value, from memory); steel μr 200 at 20 kHz 0.1 mm."""
    assert skin_depth(50, 1, 1 / 58e6) == pytest.approx(9.35e-3, rel=1e-3)
    assert skin_depth(20e3, 200, 1.6e-7) == pytest.approx(0.1e-3, rel=0.02)


def test_skin_of_a_plate() -> None:
    """Half space (exact): loss per surface H²/(2σδ) for the peak H at the surface. A rod twenty skins thick is a
    plate but for its curvature, δ/(2R) = 2.5 %, which the Bessel functions give: loss ∝ Re[k J₁/(σ J₀)]."""
    mu, sigma, f = 1.0, 6e6, 7.6e6
    delta = skin_depth(f, mu, 1 / sigma)
    assert pytest.approx(20, rel=0.03) == R / delta
    c = cell(mu, sigma, f)
    s = c.section
    u_ext = np.full(s.pole.size, 0.5 * MU0)  # H = 1 A/m far away
    u = c.at(f).total(u_ext)
    u[s.pole] += u_ext
    basis = s.parts[0]
    x = np.asarray(basis.global_coordinates())
    middle = np.abs(x[1] + L / 2) < 5e-3
    A2 = sum((x[0] * np.asarray(basis.interpolate(part))) ** 2 for part in (u.real, u.imag))
    loss = float(np.sum((0.5 * sigma * (2 * np.pi * f) ** 2 * A2 * 2 * np.pi * x[0] * basis.dx)[middle]))
    area = 2 * np.pi * R * float(np.sum((x[0] * basis.dx)[middle])) / (R**2 / 2)  # length of the piece × 2πR
    plate = 1 / (2 * sigma * delta)
    k = np.sqrt(-2j * np.pi * f * MU0 * mu * sigma)
    rod_exact = float(np.real(k * jv(1, k * R) / jv(0, k * R))) / (2 * sigma)
    assert abs(rod_exact) == pytest.approx(plate, rel=0.04)
    # the field beside a thick screen in a long uniform field is H itself but for the ends: 2 %
    assert loss / area == pytest.approx(abs(rod_exact), rel=0.02)
