r"""Field lines with equal flux between them, in a plane of which B is known on a grid.

Through the circle of radius r about the axis of a pole there goes ::

    Φ(r) = 2π ∫₀^r B_z r dr

B_z the mean of both sides. Lines begin in the pole at the height where most goes through it, at the r where Φ is ½,
3/2, 5/2 … steps; in a body without an axis likewise with 2 ∫ B_z du, Wb across one metre, and where it is magnetised
sideways with B_u up its middle. They follow B's part in the plane, by the midpoint rule, until they leave it, come
back, where they end in the point they began in, or go into another body that has lines of its own.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array

LINES = 6
"""On either side of the axis of the strongest pole."""
_STEP = 0.5  # of the grid
_MOST = 1500  # steps of a line
_AWAY = 8  # steps after which it may have come back
_CLOSES = 2.0  # of the grid: a line that comes back so near to its seed is whole


@dataclass(frozen=True, kw_only=True)
class LineSource:
    """A body that lines begin in: its number among those inside the picture, its sides and levels, m.

    Attributes
    ----------
    number : int
    middle : float
        u of its axis.
    half : float
        Half its width.
    bottom, top : float
    round : bool
        Whether `middle` is an axis that it is turned about.
    upright : bool
        Whether it is magnetised up or down, not sideways.
    """

    number: int
    middle: float
    half: float
    bottom: float
    top: float
    round: bool = True
    upright: bool = True


Grid = tuple[Array, Array]
Ints = npt.NDArray[np.int64]


def flux_lines(grid: Grid, b: Array, inside: Ints,
               sources: Sequence[LineSource]) -> tuple[tuple[Array, ...], float]:
    """Lines (2, n) of u and z, m, and the flux between them.

    Parameters
    ----------
    grid : arrays (nu,), (nz,)
        Evenly spaced, m.
    b : array (2, nz, nu)
        B along u and z, T.
    inside : int array (nz, nu)
        Which body, −1 in air.
    sources : sequence of LineSource

    Returns
    -------
    tuple of arrays, float
        Nothing and 0 where nothing is magnetised.
    """
    begun = [_profile(grid, b, s) for s in sources]
    most = max((float(np.abs(p.flux).max()) for p in begun), default=0.0)
    if not most > 0:
        return (), 0.0
    step = most / LINES
    levels = (np.arange(LINES) + 0.5) * step
    seeds, owner, cut = [], [], []
    for s, p in zip(sources, begun, strict=True):
        size = np.abs(p.flux)
        rising = size[: int(np.argmax(size)) + 1]  # where Φ still grows, r has one place for it
        at = np.interp(levels[levels < rising[-1]], np.maximum.accumulate(rising), p.r[: rising.size])
        for a in np.concatenate([at, -at]):
            seeds.append((p.middle + a, p.level) if s.upright else (p.level, p.middle + a))
        owner += [s.number] * 2 * at.size
        cut += [int(s.upright)] * 2 * at.size
    if not seeds:
        return (), step
    return _traced(grid, b, inside, np.array(seeds).T, np.array(owner), np.array(cut)), step


def lines_through(grid: Grid, b: Array, inside: Ints, places: Array) -> tuple[Array, ...]:
    """Lines (2, n), as of :func:`flux_lines`, through places (2, k) in air, m."""
    count = places.shape[1]
    return _traced(grid, b, inside, places, np.full(count, -1), np.ones(count, dtype=np.int64))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Profile:
    """Φ (n,) over r (n,) from `middle`, at the level where most goes through."""

    r: Array
    flux: Array
    middle: float
    level: float


def _profile(grid: Grid, b: Array, s: LineSource) -> _Profile:
    u, z = grid
    if s.upright:
        middle, half, low, high, across, levels, through = s.middle, s.half, s.bottom, s.top, u, z, b[1]
    else:
        middle, half = (s.bottom + s.top) / 2, (s.top - s.bottom) / 2
        low, high, across, levels, through = s.middle - s.half, s.middle + s.half, z, u, b[0].T
    rows = np.flatnonzero((levels > low) & (levels < high))
    r = np.linspace(0.0, half * 0.999, 60)
    if not rows.size:
        return _Profile(r=r, flux=np.zeros_like(r), middle=middle, level=(low + high) / 2)
    sides = np.stack([[np.interp(middle + side * r, across, row) for row in through[rows]] for side in (1, -1)])
    flow = sides.mean(axis=0) * (2 * np.pi * r if s.round else 2.0)
    flux = np.cumsum((flow[:, 1:] + flow[:, :-1]) / 2 * np.diff(r), axis=1)
    best = int(np.argmax(np.abs(flux[:, -1])))
    return _Profile(r=r, flux=np.append(0.0, flux[best]), middle=middle, level=float(levels[rows[best]]))


def _traced(grid: Grid, b: Array, inside: Ints, seeds: Array, owner: Ints, cut: Ints) -> tuple[Array, ...]:
    """Lines from seeds (2, k) in the bodies `owner` (k,), each of which is cut through at the seed's place along the
    axis `cut` (k,): a line that comes back there is whole."""
    u, z = grid
    h = _STEP * float(u[1] - u[0])
    size = np.hypot(*b)
    unit = b / np.where(size > 0, size, 1.0)
    corner, scale = np.array([u[0], z[0]]), np.array([u[1] - u[0], z[1] - z[0]])
    shape = np.array([u.size, z.size])
    flat, body = unit.reshape(2, -1), inside.ravel()

    def direction(at: Array) -> Array:
        place = (at - corner[:, None]) / scale[:, None]
        i = np.clip(place.astype(int), 0, shape[:, None] - 2)
        s, t = place - i
        k = i[1] * u.size + i[0]
        corners = k + np.array([[0], [1], [u.size], [u.size + 1]])
        share = np.stack([(1 - s) * (1 - t), s * (1 - t), (1 - s) * t, s * t])
        # B jumps at a surface: what lies on the other side of it does not count
        share *= body[corners] == body[corners[np.argmax(share, axis=0), np.arange(k.size)]]
        found = np.sum(share * flat[:, corners], axis=1)
        return np.asarray(found / np.maximum(np.hypot(*found), 1e-12))

    # every line both ways at once: one whole from the seed, the other only if it does not come back
    count = seeds.shape[1]
    at = np.concatenate([seeds, seeds], axis=1)
    way = np.repeat([1.0, -1.0], count)
    home, axis = np.concatenate([owner, owner]), np.concatenate([cut, cut])
    level = at[axis, np.arange(2 * count)]
    path, last = [at.copy()], np.full(2 * count, _MOST)
    going = np.arange(2 * count)
    back = np.zeros(2 * count, dtype=bool)
    low, high = corner, np.array([u[-1], z[-1]])
    known = np.zeros(int(inside.max()) + 2, dtype=bool)  # the last one is air's, −1
    known[owner] = True
    for n in range(1, _MOST):
        before = at[:, going]
        half = before + way[going] * h / 2 * direction(at[:, going])
        at[:, going] = before + way[going] * h * direction(half)
        path.append(at.copy())
        now = at[:, going]
        out = np.any((now < low[:, None]) | (now > high[:, None]), axis=0)
        i = np.clip(np.rint((now - corner[:, None]) / scale[:, None]).astype(int), 0, shape[:, None] - 1)
        there = inside[i[1], i[0]]
        other = known[there] & (there != home[going])
        k, along = level[going], np.arange(going.size)
        crossed = (before[axis[going], along] - k) * (now[axis[going], along] - k) <= 0
        whole = crossed & (there == home[going]) & (n > _AWAY)
        back[going[whole]] = True
        stuck = np.all(now == before, axis=0)  # where no field is known
        done = out | other | whole | stuck
        last[going[done]] = n
        going = going[~done]
        if not going.size:
            break
    places = np.stack(path)  # (steps, 2, lines)
    lines = []
    for k in range(count):
        forth = places[: last[k] + 1, :, k]
        if back[k]:
            lines.append(_whole(forth.T, int(cut[k]), h / _STEP))
        else:
            lines.append(np.concatenate([places[1: last[count + k] + 1, :, count + k][::-1], forth]).T)
    return tuple(_thinned(line) for line in lines)


def _thinned(line: Array) -> Array:
    """Every second point of a line (2, n), and its last one."""
    return np.concatenate([line[:, :-1:2], line[:, -1:]], axis=1)


def _whole(line: Array, axis: int, step: float) -> Array:
    """A line (2, n) whose last step goes over the level of its seed, ended there and led back to the seed.

    What it misses the seed by beside that level is what the grid leaves open of the surfaces it went through; up to
    two of the grid's steps it is shared out along the line. One that misses by more is another line's way.
    """
    level, (a, b) = line[axis, 0], line[:, -2:].T
    end = a + (level - a[axis]) / (b[axis] - a[axis]) * (b - a)
    line = np.concatenate([line[:, :-1], end[:, None]], axis=1)
    miss = line[:, 0] - end
    if np.hypot(*miss) > _CLOSES * step:
        return line
    way = np.append(0.0, np.cumsum(np.hypot(*np.diff(line))))
    closed = line + np.outer(miss, way / way[-1])
    closed[:, -1] = closed[:, 0]
    return closed
