"""Derivatives of discrete integrals with the places of the nodes, volume, and the interpolation on fixed rings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigs.fields.shapes import rod
from stringflux.geometry.mesh.pole import QUALITIES, section_mesh
from stringflux.solver.section.operators import potential_matrix
from stringflux.solver.section.space import Section, section_from_mesh
from stringflux.solver.shape.derivative import element_points, local_products, part_volume, potential_term
from stringflux.solver.shape.grid import shape_grid

SHAPE = rod()
DRAFT = section_mesh(SHAPE, QUALITIES["draft"])
# differences of a polynomial or rational sum, step 1e-9 m: rounding leaves about 1e-7
DIFFERENCES = 1e-5


def moved(v: np.ndarray, step: float) -> Section:
    return section_from_mesh(SHAPE, replace(DRAFT, points=DRAFT.points + step * v))


def velocity() -> np.ndarray:
    """A field that has no symmetry and keeps the axis."""
    r, z = DRAFT.points
    return np.stack([r * np.cos(300 * z), 2e-3 * np.sin(400 * r + 200 * z)]) / 2e-3


@pytest.mark.parametrize("m", [0, 1, 2])
def test_derivative_of_the_potential_form(m: int) -> None:
    """Two pairs of random functions in an anisotropic medium, over all elements."""
    rng = np.random.default_rng(m)
    s = moved(velocity(), 0.0)
    first, second = rng.standard_normal((2, s.unknowns, 2))
    mu_t, mu_z = np.full((1, 1), 2.0), np.full((1, 1), 0.7)

    def total(step: float) -> float:
        basis = moved(velocity(), step).basis
        one = np.ones((basis.nelems, 1))
        return float(np.sum(second * (potential_matrix(basis, m, mu_t * one, mu_z * one) @ first)))

    points = element_points(s, s.basis)
    nodes, _ = potential_term(points, m, mu_t, mu_z, local_products(points, first, second), DRAFT.points.shape[1])
    step = 1e-9
    assert float(np.sum(nodes * velocity())) == pytest.approx((total(step) - total(-step)) / (2 * step),
                                                              rel=DIFFERENCES)


def test_volume_and_its_derivative() -> None:
    volume, slopes = part_volume(DRAFT, 0)
    part = SHAPE.parts[0]
    assert volume == pytest.approx(np.pi * part.radius**2 * (part.top - part.bottom), rel=1e-12)
    # growing evenly: dV = 3 V dε (Euler)
    assert float(np.sum(slopes * DRAFT.points)) == pytest.approx(3 * volume, rel=1e-12)


def test_interpolation_follows_the_nodes() -> None:
    """Slopes of the interpolation against differences, and a harmonic potential of a point above the pole."""
    s = moved(velocity(), 0.0)
    grid = shape_grid(s, 0.3e-3, 0.1e-3)
    x = s.nodes[:, s.pole]
    values = np.random.default_rng(5).standard_normal((grid.r.size, 2))
    slopes = grid.at(x, 3).slopes(1, values)
    for axis in (0, 1):
        d = np.zeros((2, 1))
        d[axis] = 1e-8
        steep = (grid.at(x + d, 3).matrices[1] - grid.at(x - d, 3).matrices[1]) @ values / 2e-8
        assert np.max(np.abs(slopes[axis] - steep)) < 1e-6 * np.max(np.abs(steep))
    high = 2e-3
    found = grid.at(x, 1).matrices[0] @ (1 / np.hypot(grid.r, grid.z - high))
    # λ may err by 1e-4: a string is never nearer than this
    assert found == pytest.approx(1 / np.hypot(x[0], x[1] - high), rel=1e-4)
