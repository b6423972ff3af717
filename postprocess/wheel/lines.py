"""Lines of the field of a wheel before its sensor, with the same flux between any two, at every position of a tooth.

In the plane B = (−∂A/∂z, ∂A/∂x), so lines of equal A are lines of B, and between two of them a metre of length
carries the difference of A. The levels are the same at all positions: a line that moves is the same flux moved.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.solver.wheel.solve import SolvedWheel

LINES = 16
"""Between the least and the largest A in the window, of a wheel with a tooth over the face."""
_RIM = 0.06  # of the window's width: so far beyond it lines are drawn, for a picture that cuts them
Ints = npt.NDArray[np.int64]
Window = tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class WheelLines:
    """Lines over one tooth.

    Attributes
    ----------
    sets : tuple of tuples of arrays (2, n)
        x and z, m, along B; of the wheel turned by each of as many equal parts of a tooth.
    step : float
        Flux between two lines over the sensor's length, Wb.
    """

    sets: tuple[tuple[Array, ...], ...]
    step: float


def wheel_lines(solved: SolvedWheel, window: Window) -> WheelLines:
    """The lines inside a window (x from, to, z from, to), m, and a little beyond."""
    triangles = _quarters(solved)
    rim = _RIM * (window[1] - window[0])
    wide = (window[0] - rim, window[1] + rim, window[2] - rim, window[3] + rim)
    first = solved.potential(0)
    shown = first[np.unique(triangles[:, _near(_placed(solved, 0.0), triangles, window)])]
    step = float(np.ptp(shown)) / LINES
    top = np.ceil(np.max(np.abs(shown)) / step)
    levels = (np.arange(-top, top) + 0.5) * step
    sets = []
    for i, angle in enumerate(solved.angles):
        points = _placed(solved, float(angle))
        near = triangles[:, _near(points, triangles, wide)]
        sets.append(_level_lines(points, near, solved.potential(i), levels, wide))
    mirrored = [tuple(line * np.array([[-1.0], [1.0]]) for line in one) for one in sets[-2:0:-1]]
    return WheelLines(sets=(*sets, *mirrored), step=step * solved.build.sensor.length)


def _quarters(solved: SolvedWheel) -> Ints:
    """Every element as four triangles (3, n) of its corners and the middles of its edges."""
    dofs = solved.space.sheets.basis.element_dofs
    return np.concatenate([dofs[list(four)] for four in ((0, 3, 5), (3, 1, 4), (5, 4, 2), (3, 4, 5))], axis=1)


def _placed(solved: SolvedWheel, angle: float) -> Array:
    """Places (2, n) of the unknowns of both sheets with the wheel turned."""
    centre = solved.build.centre
    points = np.asarray(solved.space.sheets.nodes).copy()
    turns = np.unique(solved.space.sheets.basis.element_dofs[:, solved.space.mesh.wheel])
    x, z = points[0, turns], points[1, turns] - centre
    c, s = np.cos(angle), np.sin(angle)
    points[:, turns] = np.stack([c * x - s * z, s * x + c * z + centre])
    return points


def _near(points: Array, triangles: Ints, window: Window) -> Ints:
    """Which triangles reach into the window."""
    x, z = points[:, triangles]
    return np.flatnonzero((x.max(axis=0) > window[0]) & (x.min(axis=0) < window[1])
                          & (z.max(axis=0) > window[2]) & (z.min(axis=0) < window[3]))


def _level_lines(points: Array, triangles: Ints, potential: Array, levels: Array,
                 window: Window) -> tuple[Array, ...]:
    """Lines of equal potential, cut at the window, along B. As matplotlib draws them A rises to their left, and along
    B it rises to the right."""
    from matplotlib.figure import Figure
    from matplotlib.tri import Triangulation

    used, own = np.unique(triangles, return_inverse=True)
    grid = Triangulation(points[0, used], points[1, used], own.reshape(triangles.shape).T)
    found = Figure().subplots().tricontour(grid, potential[used], levels=levels)
    lines = [line for one in found.allsegs for path in one for line in _cut(np.asarray(path).T, window)]
    return tuple(line[:, ::-1] for line in lines if line.shape[1] > 2)


def _cut(line: Array, window: Window) -> list[Array]:
    """The pieces of a line (2, n) inside the window."""
    x, z = line
    inside = (x >= window[0]) & (x <= window[1]) & (z >= window[2]) & (z <= window[3])
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(int)))
    return [line[:, a:b] for a, b in zip(edges[::2], edges[1::2], strict=True)]
