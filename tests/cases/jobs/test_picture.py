"""Pictures of the field in a plane: the fields that strings see, equal flux between lines, what strings add."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.cases import Pickup, load_case, solve
from stringflux.geometry.errors import InputError
from stringflux.postprocess.results.picture import FieldPicture


@pytest.fixture(scope="module")
def pickup() -> Pickup:
    return solve(load_case("bench-single"), quality="draft")


@pytest.fixture(scope="module")
def along(pickup: Pickup) -> FieldPicture:
    return pickup.picture("along")


def test_over_the_face_it_is_the_field(pickup: Pickup, along: FieldPicture) -> None:
    face = pickup.prediction(maps=False).poles[0].face
    rows = np.flatnonzero((along.z > face + 1e-3) & (along.z < face + 5e-3))
    columns = np.flatnonzero(np.abs(along.u) < 6e-3)
    U, Z = np.meshgrid(along.u[columns], along.z[rows])
    field = pickup.field([0 * U.ravel(), U.ravel(), Z.ravel()])
    there = along.b[np.ix_(range(3), rows, columns)].reshape(3, -1)
    np.testing.assert_allclose(there, field.values, rtol=0, atol=1e-12)


def test_both_planes_through_one_pole_are_alike(pickup: Pickup, along: FieldPicture) -> None:
    side = pickup.picture("side")
    assert side.u.size == along.u.size
    np.testing.assert_allclose(side.size, along.size, rtol=1e-9)
    assert along.at == side.at == 0.0


def test_lines_carry_equal_flux() -> None:
    """Every line of one pole alone runs on one contour of its flux 2π r A, by ½, 3/2 … steps."""
    pickup = solve(load_case("bench-single"))  # on a draft's triangles A itself is not known closely enough
    along = pickup.picture("along")
    section = pickup.prediction().section
    face = pickup.prediction().poles[0].face
    assert section is not None
    from matplotlib.tri import LinearTriInterpolator, Triangulation

    flux = LinearTriInterpolator(Triangulation(*section.points, section.triangles.T), section.flux)
    steps = set()
    for line in along.lines:
        found = np.abs(np.asarray(flux(np.abs(line[0]), line[1] - face))) / along.step
        steps.add(round(float(np.median(found)) - 0.5))
        assert np.quantile(np.abs(found - np.median(found)), 0.9) < 0.25
    assert steps == set(range(len(along.lines) // 2))


def test_a_string_adds_a_field_that_falls_away_from_it(pickup: Pickup, along: FieldPicture) -> None:
    string = pickup.prediction(maps=False).strings[0]
    added = np.sqrt(np.sum(along.strings**2, axis=0))
    i, j = np.argmin(np.abs(along.z - string.height)), np.argmin(np.abs(along.u - string.y))
    assert np.isnan(added[i, j])
    over = added[i + 2:i + 14, j]
    assert np.all(np.diff(over) < 0)
    assert 2e-3 < over[0] < 0.2  # T


def test_what_cannot_be_drawn_is_said(pickup: Pickup) -> None:
    with pytest.raises(InputError, match='plane: received "above"; write along, side'):
        pickup.picture("above")
    with pytest.raises(InputError, match="string"):
        pickup.picture("side", 2)
    blade = solve(load_case("blade-six"), quality="draft")
    with pytest.raises(InputError, match="no plain row"):
        blade.picture("along")
