"""The sliding space: conforming at every angle, and neither mesh nor angle is seen where nothing should be."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.wheels import FEW, MATERIALS, wheel_build
from stringflux.geometry.mesh.wheel import sliding_mesh
from stringflux.solver.materials.constant import ConstantPermeability
from stringflux.solver.section.bias import BiasCell
from stringflux.solver.section.forms import PLANAR
from stringflux.solver.section.operators import flux_matrix
from stringflux.solver.wheel.sliding import SlidingSpace, sliding_space


@pytest.fixture(scope="module")
def space() -> SlidingSpace:
    build = wheel_build()
    return sliding_space(build, sliding_mesh(build, FEW))


@pytest.mark.parametrize("field", [lambda x, z: x, lambda x, z: x * z, lambda x, z: x * x - z * z])
def test_a_field_of_free_space_passes_the_circle(space: SlidingSpace, field: object) -> None:
    """Harmonic polynomials of second order are in the space: no residual is left on the circle, at rounding."""
    matrix = flux_matrix(space.sheets.basis, PLANAR)
    turned = space.turned(0)
    x, z = turned.nodes
    residual = turned.joined.T @ (matrix @ field(*space.sheets.nodes))  # type: ignore[operator]
    within = np.hypot(x, z - space.sheets.mesh.far_centre) < 0.8 * space.sheets.mesh.far_radius
    assert np.max(np.abs(residual[within])) < 1e-12 * np.max(np.abs(residual))


def test_a_wheel_of_air_is_not_seen_to_turn(space: SlidingSpace) -> None:
    """Its elements differ from angle to angle all the same: λ moves by what the meshes leave, 1e-5 of it."""
    air = ConstantPermeability(name="air", mu_r=1.0)
    materials = (MATERIALS["alnico-5"], MATERIALS["steel-1008"], air)
    found = []
    for k in range(0, space.steps, 5):
        section = space.turned(k)
        u = BiasCell(section=section, materials=materials).solve().u  # type: ignore[arg-type]
        found.append(float(space.linked @ (section.joined @ u)))
    assert np.ptp(found) < 3e-5 * abs(found[0])


def test_one_tooth_on_is_the_same_again(space: SlidingSpace) -> None:
    """Periodic and even in the angle to rounding."""
    materials = tuple(MATERIALS[p.material] for p in space.build.shape.parts)
    found = []
    for k in (3, 3 + space.steps, -3):
        section = space.turned(k)
        u = BiasCell(section=section, materials=materials).solve(tolerance=1e-11).u  # type: ignore[arg-type]
        found.append(float(space.linked @ (section.joined @ u)))
    assert found[1:] == pytest.approx([found[0]] * 2, rel=1e-9)


def test_the_sheets_have_the_areas_of_what_they_are_of(space: SlidingSpace) -> None:
    build = space.build
    own = [float(part.dx.sum()) for part in space.sheets.parts]
    assert own[:2] == pytest.approx([4e-3 * 15e-3, 2e-3 * 8e-3], rel=1e-9)
    wheel = build.shape.parts[-1].area - np.pi * build.wheel.bore**2
    assert own[2] == pytest.approx(wheel, rel=2e-3)  # chords in place of arcs
    far = np.pi * space.sheets.mesh.far_radius**2
    assert float(space.sheets.basis.dx.sum()) == pytest.approx(far, rel=5e-3)
