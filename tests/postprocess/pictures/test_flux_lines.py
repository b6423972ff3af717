"""Field lines of a stream function whose lines are known: those that come back close, and the others leave."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from stringflux.cases import load_case, solve
from stringflux.geometry.arrays import Array
from stringflux.postprocess.pictures.flux_lines import LineSource, flux_lines

MM = 1e-3
U, Z = np.arange(-17, 17.01, 0.25) * MM, np.arange(-10, 10.01, 0.25) * MM
WIDE, HIGH = 5 * MM, 3.5 * MM


def psi(u: Any, z: Any) -> Any:
    """Two turning fields side by side, a body between them: lines are ovals about (± WIDE, 0), where ψ is ± 1."""
    return u / WIDE * np.exp(0.5 - (u / WIDE) ** 2 / 2 - (z / HIGH) ** 2 / 2)


def field() -> Array:
    u, z = np.meshgrid(U, Z)
    d = 1e-9
    return np.array([psi(u, z + d) - psi(u, z - d), -(psi(u + d, z) - psi(u - d, z))]) / (2 * d)


@pytest.mark.parametrize("upright", [True, False])
def test_a_line_that_comes_back_ends_where_it_began(upright: bool) -> None:
    b = field() * (-1 if upright else 1)
    grid = (U, Z)
    if not upright:  # the same, turned by a quarter
        b, grid = b[::-1].transpose(0, 2, 1), (Z, U)
    inside = np.full(b.shape[1:], -1)
    across, up = np.meshgrid(*grid)
    long = np.abs(up if upright else across) <= 4 * MM
    inside[(np.abs(across if upright else up) <= 3 * MM) & long] = 0
    half, top = (3 * MM, 4 * MM) if upright else (4 * MM, 3 * MM)
    source = LineSource(number=0, middle=0.0, half=half, bottom=-top, top=top, round=False, upright=upright)
    lines, _ = flux_lines(grid, b, inside, [source])
    closed = [line for line in lines if np.all(line[:, 0] == line[:, -1])]
    assert len(lines) == 12
    assert len(closed) == 12
    for line in lines:
        u, z = line if upright else line[::-1]
        steps = np.hypot(*np.diff(line))
        assert steps.max() < 0.3 * MM  # no gap anywhere on the way
        assert np.ptp(psi(u, z)) < 0.03  # and still the line that it is, of ψ up to 1


@pytest.mark.usefixtures("shared_solutions")
def test_lines_of_a_pickup_close_or_leave() -> None:
    picture = solve(load_case("bench-single"), quality="draft").picture("side")
    ends = np.array([[line[:, 0], line[:, -1]] for line in picture.lines])
    closed = np.all(ends[:, 0] == ends[:, 1], axis=1)
    edges = np.array([[picture.u[0], picture.u[-1]], [picture.z[0], picture.z[-1]]])
    leaves = np.min(np.abs(ends[:, :, :, None] - edges), axis=(2, 3)) < 0.13 * MM
    assert np.sum(closed) == 6
    assert np.all(closed | leaves.all(axis=1))
