"""A string as charges and dipoles, against its line in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.geometry.shapes.row import StringShape
from stringflux.postprocess.string.own_field import MagnetisedLine
from stringflux.postprocess.string.sources import all_of, joined, sources

X = np.sinh(np.linspace(-4.0, 4.0, 141)) * 60e-3 / np.sinh(4.0)  # dense in the middle
OFF = 5e-3  # of the largest field, most of it of opposite charges in one piece of a tenth of the distance


def line(slope: float, share: float) -> MagnetisedLine:
    """Along odd in x as over a pole, not quite; across as there."""
    shape = StringShape(core_radius=0.5e-3, y=3e-3, axis_height=6e-3, slope=slope, steel="string-steel")
    near = np.exp(-(X / 4e-3) ** 2)
    return MagnetisedLine(shape=shape, x=X, along=0.3 * (share + X / 5e-3) * near,
                          across=np.stack([0.02 * share * near, 0.05 * near]))


@pytest.mark.parametrize("slope", [0.0, 0.05])
@pytest.mark.parametrize("distance", [5e-3, 10e-3, 30e-3])
def test_field_of_a_line(slope: float, distance: float) -> None:
    lines = [line(slope, 1.0), line(slope, -0.4)]
    found = sources(lines, distance)
    x = np.linspace(-40e-3, 40e-3, 33)
    points = np.stack([x, np.full_like(x, 3e-3 + distance), 6e-3 + 0.3e-3 + slope * x])
    exact = np.stack([one.field(points) for one in lines])
    assert np.max(np.abs(found.field(points) - exact)) < OFF * np.max(np.abs(exact))
    assert len(found.at) < 1.1 * len(X)


def test_close_by_every_piece_is_its_own() -> None:
    middle = (X[1:] + X[:-1]) / 2
    np.testing.assert_array_equal(joined(middle, 1e-4), np.eye(middle.size))
    few = joined(middle, 30e-3)
    np.testing.assert_array_equal(few.sum(axis=0), 1.0)
    assert len(few) < 45


def test_the_first_state_does_not_mind_the_others() -> None:
    points = np.array([[1e-3, 5e-3], [12e-3, 14e-3], [7e-3, 5e-3]])
    one, other = (sources([line(0.0, 1.0), line(0.0, share)], 8e-3).field(points)[0] for share in (0.5, 0.7))
    np.testing.assert_array_equal(one, other)


def test_several_add() -> None:
    one, other = sources([line(0.0, 1.0)], 8e-3), sources([line(0.02, 0.5)], 8e-3)
    points = np.array([[1e-3, 5e-3], [12e-3, 14e-3], [7e-3, 5e-3]])
    np.testing.assert_allclose(all_of([one, other]).field(points), one.field(points) + other.field(points), rtol=1e-9)


def test_what_is_not_magnetised_has_no_field() -> None:
    none = MagnetisedLine(shape=line(0.0, 1.0).shape, x=X, along=0 * X, across=np.zeros((2, X.size)))
    assert not np.any(sources([none], 8e-3).field(np.array([[0.0], [12e-3], [7e-3]])))
