"""Whether bodies share volume, against points: a body meets another when a point lies inside both."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from stringflux.geometry.shapes.bodies import Box, Cover, Cylinder, Form, Revolved
from stringflux.geometry.shapes.overlaps import cuts_winding, is_inside, overlap, windings_meet
from stringflux.geometry.shapes.row import Racetrack

RNG = np.random.default_rng(5)
SURE = 0.02  # two bodies that share less than this part of both boxes' common box may be missed by the points


def inside(form: Form, p: NDArray[np.float64]) -> NDArray[np.bool_]:
    low, high = form.bounds
    box = np.all([(p[i] > low[i]) & (p[i] < high[i]) for i in range(3)], axis=0)
    if isinstance(form, Cylinder):
        off = np.hypot(*(p[i] - form.base[i] for i in range(3) if i != form.along))
        return np.asarray(box & (off < form.radius))
    if isinstance(form, Cover):
        t = form.wall
        hollow = np.all([(p[i] > low[i] + t) & (p[i] < high[i] - t) for i in (0, 1)], axis=0) & (p[2] < high[2] - t)
        return np.asarray(box & ~hollow)
    return box


def in_winding(coil: Racetrack, p: NDArray[np.float64]) -> NDArray[np.bool_]:
    off = np.hypot(p[0] - coil.x_centre, np.maximum(0.0, np.abs(p[1] - coil.y_centre) - coil.straight / 2))
    return np.asarray((off > coil.inner_radius) & (off < coil.inner_radius + coil.build)
                      & (p[2] > coil.bottom) & (p[2] < coil.top))  # fmt: skip


def some_form() -> Form:
    low = RNG.uniform(-1.0, 0.5, 3)
    size = RNG.uniform(0.1, 1.2, 3)
    corners = (float(low[0]), float(low[1]), float(low[2])), tuple(map(float, low + size))
    kind = RNG.integers(3)
    if kind == 0:
        return Box(low=corners[0], high=corners[1])  # type: ignore[arg-type]
    if kind == 1:
        return Cover(low=corners[0], high=corners[1], wall=float(0.2 * min(size)))  # type: ignore[arg-type]
    return Cylinder(base=corners[0], along=int(RNG.integers(3)), length=float(size[0]), radius=float(size[1] / 2))


def points(low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.float64]:
    return RNG.uniform(low[:, None], high[:, None], (3, 4000))


def test_bodies_meet_where_points_say_so() -> None:
    seen = [0, 0]
    for _ in range(1000):
        a, b = some_form(), some_form()
        low = np.maximum(a.bounds[0], b.bounds[0])
        high = np.minimum(a.bounds[1], b.bounds[1])
        if np.any(high <= low):
            assert not overlap(a, b)
            continue
        p = points(low, high)
        share = float(np.mean(inside(a, p) & inside(b, p)))
        found = overlap(a, b)
        assert found == overlap(b, a)
        seen[found] += 1
        if share > 0:
            assert found
        elif found:  # then by a sliver that 4000 points miss
            assert _tightened(a, b)
    assert min(seen) > 10


def _tightened(a: Form, b: Form) -> bool:
    """Whether bodies that meet no longer do when both are a little smaller."""
    return not overlap(_smaller(a), _smaller(b))


def _smaller(form: Form) -> Form:
    if isinstance(form, Cylinder):
        base = tuple(c + SURE * (i == form.along) for i, c in enumerate(form.base))
        return Cylinder(base=base, along=form.along, length=form.length - 2 * SURE, radius=form.radius - SURE)  # type: ignore[arg-type]
    low, high = (tuple(c + s * SURE for c in corner) for s, corner in zip((1, -1), form.bounds, strict=True))
    if isinstance(form, Cover):
        return Cover(low=low, high=high, wall=max(form.wall - 2 * SURE, 1e-6))  # type: ignore[arg-type]
    return Box(low=low, high=high)  # type: ignore[arg-type]


def test_windings_are_cut_where_points_say_so() -> None:
    shape = {"inner_radius": 0.3, "straight": 0.8, "build": 0.3, "bottom": -0.4, "top": 0.2}
    coil = Racetrack(turns=1, x_centre=-0.1, y_centre=0.1, **shape)
    seen = [0, 0]
    for _ in range(300):
        form = some_form()
        if isinstance(form, Cover):
            continue
        p = points(np.array(form.bounds[0]), np.array(form.bounds[1]))
        share = float(np.mean(inside(form, p) & in_winding(coil, p)))
        found = cuts_winding(form, coil)
        seen[found] += 1
        assert found or share == 0
        if found and share == 0:
            assert not cuts_winding(_smaller(form), coil)
    assert min(seen) > 10


COIL = Racetrack(inner_radius=3e-3, straight=50e-3, build=4e-3, bottom=-10e-3, top=-1e-3, turns=1)


def test_touching_is_no_overlap() -> None:
    box = Box(low=(0, 0, 0), high=(1e-3, 1e-3, 1e-3))
    assert not overlap(box, Box(low=(1e-3, 0, 0), high=(2e-3, 1e-3, 1e-3)))
    assert overlap(box, Box(low=(0.99e-3, 0, 0), high=(2e-3, 1e-3, 1e-3)))
    rod = Cylinder(base=(2e-3, 0.5e-3, 0), along=2, length=1e-3, radius=1e-3)
    assert not overlap(box, rod)
    assert not overlap(rod, Cylinder(base=(4e-3, 0.5e-3, 0), along=2, length=1e-3, radius=1e-3))
    assert not overlap(rod, Cylinder(base=(0, 0.5e-3, 2e-3), along=0, length=4e-3, radius=1e-3))
    assert overlap(rod, Cylinder(base=(0, 0.5e-3, 1.9e-3), along=0, length=4e-3, radius=1e-3))
    pole = Revolved(outline=((0, -5e-3), (2e-3, -5e-3), (2e-3, 0), (0, 0)), x=3e-3, y=0.5e-3)
    assert not overlap(box, pole)
    assert not cuts_winding(Box(low=(-3e-3, -25e-3, -20e-3), high=(3e-3, 25e-3, 0)), COIL)
    assert not cuts_winding(Box(low=(7e-3, -25e-3, -20e-3), high=(9e-3, 25e-3, 0)), COIL)
    assert not cuts_winding(Box(low=(-9e-3, -40e-3, -12e-3), high=(9e-3, 40e-3, -10e-3)), COIL)


def test_a_corner_reaches_into_the_round_end() -> None:
    assert cuts_winding(Box(low=(-3e-3, -27e-3, -5e-3), high=(3e-3, 27e-3, 0)), COIL)
    assert not cuts_winding(Box(low=(-1e-3, -27e-3, -5e-3), high=(1e-3, 27e-3, 0)), COIL)


def test_a_cover_stands_over_a_coil_and_is_not_inside_it() -> None:
    cover = Cover(low=(-8e-3, -34e-3, -12e-3), high=(8e-3, 34e-3, 0), wall=0.5e-3)
    assert not cuts_winding(cover, COIL)
    assert not is_inside(cover, COIL)
    assert is_inside(Box(low=(-1e-3, -20e-3, -5e-3), high=(1e-3, 20e-3, 0)), COIL)
    assert not is_inside(Box(low=(-1e-3, -20e-3, -15e-3), high=(1e-3, 20e-3, -10e-3)), COIL)
    assert cuts_winding(Cover(low=(-6.8e-3, -34e-3, -12e-3), high=(6.8e-3, 34e-3, 0), wall=0.5e-3), COIL)


@pytest.mark.parametrize(
    ("keys", "meet"),
    [
        ({}, True),
        ({"x_centre": 14e-3}, False),
        ({"x_centre": 13.9e-3}, True),
        ({"y_centre": 64e-3}, False),
        ({"y_centre": 63.9e-3}, True),
        ({"bottom": -20e-3, "top": -10e-3}, False),
        ({"inner_radius": 7e-3}, False),  # one round the other
        ({"inner_radius": 7e-3, "y_centre": 0.2e-3}, True),
        ({"inner_radius": 7e-3, "straight": 48e-3}, True),
        ({"inner_radius": 1e-3, "build": 2e-3}, False),  # one inside the other
        ({"inner_radius": 1e-3, "build": 2e-3, "straight": 10e-3, "y_centre": 20e-3}, False),
        ({"inner_radius": 1e-3, "build": 2e-3, "straight": 10e-3, "y_centre": 21e-3}, True),
    ],
)
def test_windings(keys: dict[str, float], meet: bool) -> None:
    shape = {"inner_radius": 3e-3, "straight": 50e-3, "build": 4e-3, "bottom": -10e-3, "top": -1e-3} | keys
    other = Racetrack(turns=1, **shape)
    assert windings_meet(COIL, other) is meet
    assert windings_meet(other, COIL) is meet
