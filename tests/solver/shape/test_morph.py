"""Meshes that follow a profile."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.fields.shapes import rod
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.row import PartShape, PoleShape
from stringflux.solver.shape.morph import Morph, morph_from_boundary, profile_morph, signed_areas, surface_nodes

DRAFT = QUALITIES["draft"]
RADII = (0.0, 0.9e-3, 1.7e-3, 2.4e-3)


def slug_on_disc() -> PoleShape:
    def cylinder(radius: float, top: float, length: float) -> tuple[tuple[float, float], ...]:
        return (0.0, top - length), (radius, top - length), (radius, top), (0.0, top)

    return PoleShape(parts=(PartShape(material="steel-1008", outline=cylinder(2.4e-3, 0.0, 12e-3)),
                            PartShape(material="ceramic-8", outline=cylinder(5e-3, -12e-3, 4e-3), polarity=1)))


@pytest.fixture(scope="module")
def morph() -> Morph:
    return profile_morph(rod(), DRAFT, RADII)


def test_the_profile_passes_the_control_points(morph: Morph) -> None:
    p = np.array([0.2, -0.1, 0.15, -0.2]) * 1e-3
    r, z = morph.profile(p)
    assert (r[0], r[-1]) == pytest.approx((0.0, 2.4e-3))
    assert (z[0], z[-1]) == pytest.approx((p[0], p[-1]), abs=1e-12)
    assert np.all(np.diff(r) > 0)


def test_straight_lines_between_control_points() -> None:
    linear = profile_morph(rod(), DRAFT, (0.0, 2.4e-3), basis="linear")
    r, z = linear.profile(np.array([0.0, -0.3e-3]))
    assert z == pytest.approx(-0.3e-3 * r / 2.4e-3, abs=1e-12)


def test_elements_keep_their_sense_and_the_rest_stays(morph: Morph) -> None:
    p = np.array([0.3, -0.2, 0.1, -0.4]) * 1e-3
    moved = morph.mesh(p)
    assert np.all(signed_areas(moved.points, moved.triangles)
                  * signed_areas(morph.start.points, morph.start.triangles) > 0)
    far = np.unique(moved.far_edges)
    assert np.array_equal(moved.points[:, far], morph.start.points[:, far])
    axis = morph.start.points[0] == 0
    assert np.all(moved.points[0, axis] == 0)
    upper, side, bottom = surface_nodes(morph.shape, morph.start, 0)
    assert moved.points[0, side] == pytest.approx(np.full(side.size, 2.4e-3), abs=1e-12)
    assert np.array_equal(moved.points[:, bottom], morph.start.points[:, bottom])
    assert set(upper) & set(side) == set()


def test_the_part_below_stays() -> None:
    shape = slug_on_disc()
    below = profile_morph(shape, DRAFT, RADII)
    moved = below.mesh(np.array([0.2, 0.1, -0.1, -0.2]) * 1e-3)
    corners = moved.triangles[:, moved.region == 1]
    surface = np.concatenate(surface_nodes(shape, moved, 1))
    assert np.array_equal(moved.points[:, surface], below.start.points[:, surface])
    assert corners.size


def test_a_crushed_mesh_is_refused_with_a_sentence(morph: Morph) -> None:
    reach = morph.limits()
    assert 0.1e-3 < reach < 5e-3
    with pytest.raises(CaseError, match="crushes the mesh"):
        morph.mesh(np.array([1.0, -1.0, 1.0, -1.0]) * 20e-3)


def test_control_points_from_the_axis_to_the_rim() -> None:
    with pytest.raises(CaseError, match=r"from 0 to the part's radius, 2\.4 mm"):
        profile_morph(rod(), DRAFT, (0.0, 1e-3))


def test_a_family_of_diameters() -> None:
    """Every surface node out in proportion to its radius: the radius grows by the parameter."""
    wider = morph_from_boundary(rod(), DRAFT, lambda x: np.stack([[x[0] / 2.4e-3, 0 * x[1]]]))
    moved = wider.mesh(np.array([0.1e-3]))
    assert np.max(moved.points[0, moved.triangles[:, moved.region == 0]]) == pytest.approx(2.5e-3)
