"""The axisymmetric kernel beside an independent finite element code on the same mesh and order."""

from __future__ import annotations

from dataclasses import replace

import pytest

from measure.bench.peer import peer_inductance
from measure.bench.solid_errors import netgen_mesh, ours, peer
from rigs.fields.meshed_coil import complex_inductance, meshed_inductance
from rigs.fields.shapes import rectangle, rod
from rigs.fields.solid_ball import ball
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.row import PartShape, PoleShape
from stringflux.solver.section.space import section

# ImportError and not only ModuleNotFoundError: installed, it may still lack libquadmath.so.0 of the system
pytest.importorskip("ngsolve", reason="extra 'peers' is not installed, or cannot be loaded", exc_type=ImportError)


@pytest.mark.parametrize("mu", [4.0, 300.0])
def test_same_inductance_on_the_same_mesh(mu: float) -> None:
    coil = PartShape(material="air", outline=rectangle(3e-3, 7e-3, -13e-3, -2e-3))
    s = section(PoleShape(parts=(*rod().parts, coil)), QUALITIES["draft"])
    assert meshed_inductance(s, [mu, 1.0], 1) == pytest.approx(peer_inductance(s, [mu, 1.0], 1).real, rel=1e-9)


@pytest.mark.parametrize("frequency", [1e3, 2e4])
def test_same_impedance_on_the_same_mesh(frequency: float) -> None:
    """Complex solve with a conducting rod: L and R of the coil to 1e-8."""
    coil = PartShape(material="air", outline=rectangle(3e-3, 7e-3, -13e-3, -2e-3))
    s = section(PoleShape(parts=(*rod().parts, coil)), QUALITIES["draft"])
    sigma = [6e6, 0.0]
    ours = complex_inductance(s, [100.0, 1.0], 1, sigma, frequency)
    theirs = peer_inductance(s, [100.0, 1.0], 1, sigma=sigma, frequency=frequency)
    assert abs(ours / theirs - 1) < 1e-8
    assert ours.imag < -0.01 * ours.real


def test_same_energy_of_a_body_on_the_same_tetrahedra() -> None:
    """A ball of μr 500 that is magnetised along z: ∫ μ |∇φ|² by our two levels and by their Cholesky factor."""
    mesh = replace(ball(5e-3, 0.3), middles=None)
    assert ours(mesh)[0] == pytest.approx(peer(netgen_mesh(mesh), "sparsecholesky")[0], rel=1e-9)
