"""Tip profiles: volumes of the bodies of revolution against closed forms."""

from __future__ import annotations

import math

import pytest

from stringflux.geometry.shapes import profiles

R, L = 2.4e-3, 17e-3
ROD = math.pi * R**2 * L
CAP_SHORT = 2e-3  # relative; an arc of 24 straight pieces, the cap's part only (measured 1.1e-3)


def body(edge: profiles.Edge, top: float = 0.0) -> float:
    return profiles.volume(profiles.outline(edge, length=L, top=top))


def cap(height: float) -> float:
    return math.pi * height * (3 * R**2 + height**2) / 6


def test_flat() -> None:
    assert body(profiles.flat(R)) == pytest.approx(ROD, rel=1e-9)
    assert profiles.outline(profiles.flat(R), length=L) == ((0, -L), (R, -L), (R, 0), (0, 0))


def test_bevelled() -> None:
    depth, width = 0.5e-3, 0.8e-3
    small = R - width
    cone = math.pi * depth / 3 * (R**2 + R * small + small**2)
    wanted = ROD - math.pi * R**2 * depth + cone
    assert body(profiles.bevelled(R, depth=depth, width=width)) == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("rise", [0.02e-3, 0.5e-3, R])
def test_domed(rise: float) -> None:
    wanted = cap(rise)
    got = body(profiles.domed(R, rise=rise)) - math.pi * R**2 * (L - rise)
    assert got == pytest.approx(wanted, rel=CAP_SHORT)
    assert got < wanted  # inscribed


@pytest.mark.parametrize("depth", [0.3e-3, 1e-3, R])
def test_cupped(depth: float) -> None:
    assert ROD - body(profiles.cupped(R, depth=depth)) == pytest.approx(cap(depth), rel=CAP_SHORT)


def test_polyline_can_be_a_bevel() -> None:
    bevel = profiles.bevelled(R, depth=0.5e-3, width=0.8e-3)
    lifted = [(r, z + 3e-3) for r, z in bevel]
    assert body(profiles.polyline(lifted)) == pytest.approx(body(bevel), rel=1e-9)


@pytest.mark.parametrize(
    "edge",
    [
        profiles.flat(R),
        profiles.bevelled(R, depth=0.5e-3, width=0.8e-3),
        profiles.domed(R, rise=0.5e-3),
        profiles.cupped(R, depth=0.5e-3),
    ],
)
def test_highest_point_is_the_face(edge: profiles.Edge) -> None:
    section = profiles.outline(edge, length=L, top=1e-3)
    assert max(z for _, z in section) == pytest.approx(1e-3)
    assert min(z for _, z in section) == pytest.approx(1e-3 - L)
    assert min(r for r, _ in section) == 0
    assert max(r for r, _ in section) == R
    assert len(set(section)) == len(section)
    assert profiles.volume(section) > 0  # counter-clockwise
    assert body(edge, top=1e-3) == pytest.approx(body(edge), rel=1e-8)
