"""Flux through a section from the vector potential on its rim, against closed forms of B over it."""

from __future__ import annotations

from typing import Any

import magpylib
import numpy as np
import pytest

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.geometry.shapes.bodies import Box, SolidBody
from stringflux.solver.materials import linear_magnet
from stringflux.solver.solid.flux import flux_through, flux_within, round_rim, square_rim
from stringflux.solver.solid.solve import SolvedMagnets, solve_magnets

LOW, HIGH, WAY = np.array([-3e-3, -6e-3, -4e-3]), np.array([3e-3, 6e-3, 0.0]), (0.6, 0.0, 0.8)
PEER = magpylib.magnet.Cuboid(dimension=HIGH - LOW, polarization=WAY, position=(LOW + HIGH) / 2)
_WITHIN = 1.2e-2  # at draft; measured 0.4 to 1.0 %, at normal 0.3 to 0.6 %
_CLOSE = 2e-4  # at draft; measured 1e-6 two millimetres off, 1.1e-4 a millimetre off


@pytest.fixture(scope="module")
def block() -> SolvedMagnets:
    body = SolidBody(name="block", material="m", form=Box(low=tuple(LOW), high=tuple(HIGH)), magnetisation=WAY)
    return solve_magnets([body], {"m": linear_magnet(name="m", remanence=1.0, mu_recoil=1.0)},
                         quality=SOLID_QUALITIES["draft"])


def points_between(ends: list[float]) -> tuple[Array, Array]:
    """Gauss's points and weights, piece by piece."""
    x, w = np.polynomial.legendre.leggauss(40)
    e, half = np.array(sorted(ends)), np.diff(sorted(ends)) / 2
    return ((e[:-1] + half)[:, None] + half[:, None] * x).ravel(), (half[:, None] * w).ravel()


def over_rectangle(centre: Any, axis: int, size: tuple[float, float]) -> float:
    """∫ B dS; B jumps at the faces of the block."""
    rest = [k for k in range(3) if k != axis]
    at, weight = [], []
    for k, length in zip(rest, size, strict=True):
        low, high = centre[k] - length / 2, centre[k] + length / 2
        p, w = points_between([low, high, *(float(f[k]) for f in (LOW, HIGH) if low < f[k] < high)])
        at.append(p)
        weight.append(w)
    p = np.empty((at[0].size, at[1].size, 3))
    p[..., axis], p[..., rest[0]], p[..., rest[1]] = centre[axis], at[0][:, None], at[1]
    return float(np.einsum("ij,i,j->", PEER.getB(p.reshape(-1, 3)).reshape(p.shape)[..., axis], *weight))


@pytest.mark.parametrize(("centre", "axis", "size"), [
    ((0.0, 1e-3, 2e-3), 2, (4e-3, 5e-3)),  # over it
    ((1e-3, 7.5e-3, -2e-3), 1, (9e-3, 7e-3)),  # beside it
    ((1e-3, 0.0, -2e-3), 2, (12e-3, 20e-3)),  # round it, across
    ((0.0, 1e-3, -2e-3), 0, (20e-3, 9e-3)),  # round it, the other way
])
def test_rectangles(block: SolvedMagnets, centre: Any, axis: int, size: tuple[float, float]) -> None:
    found, exact = flux_through(block, square_rim(np.array(centre), axis, size)), over_rectangle(centre, axis, size)
    assert found.keeps_off
    assert found.flux == pytest.approx(exact, rel=_CLOSE)


def test_disc_aslant(block: SolvedMagnets) -> None:
    """In air, across any direction: B of the peer over the disc."""
    centre, normal, radius = np.array([1e-3, 2e-3, 6e-3]), np.array([1.0, 2.0, 2.0]) / 3, 4e-3
    first = np.cross(normal, [0.0, 0.0, 1.0])
    first /= np.linalg.norm(first)
    r, w = points_between([0.0, radius])
    angle = 2 * np.pi * np.arange(64) / 64
    second = np.cross(normal, first)
    p = centre + r[:, None, None] * (np.cos(angle)[:, None] * first + np.sin(angle)[:, None] * second)
    exact = float(np.einsum("ij,i->", PEER.getB(p.reshape(-1, 3)).reshape(p.shape) @ normal, w * r)) * np.pi / 32
    assert flux_through(block, round_rim(centre, normal, radius)).flux == pytest.approx(exact, rel=_CLOSE)


def test_a_rim_in_or_at_the_block_is_told(block: SolvedMagnets) -> None:
    for radius in (2e-3, 3.2e-3, 5.9e-3):
        assert not flux_through(block, round_rim(np.array([0.0, 0.0, -2e-3]), np.eye(3)[2], radius)).keeps_off


@pytest.mark.parametrize(("axis", "at"), [(2, -2.1e-3), (2, -0.9e-3), (0, 0.4e-3), (1, 0.0), (1, 3e-3)])
def test_within_a_body(block: SolvedMagnets, axis: int, at: float) -> None:
    """∫ B dS of the peer over the section of the block; y = 0 is a plane where its mesh stops."""
    centre = (LOW + HIGH) / 2
    centre[axis] = at
    one, other = np.delete(HIGH - LOW, axis)
    flux, area = flux_within(block, [0], axis, at)
    assert area == pytest.approx(one * other, rel=1e-9)
    assert flux == pytest.approx(over_rectangle(centre, axis, (one, other)), rel=_WITHIN,
                                 abs=1e-3 * area)  # of the remanence, 1 T


def test_no_section_where_the_body_is_not(block: SolvedMagnets) -> None:
    assert flux_within(block, [0], 2, 1e-3) == (0.0, 0.0)
