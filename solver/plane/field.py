r"""B₀ and b over long bars of finite length: what the string stage sees of the planar solver.

Close to a bar the charges of its section count, not the lines they were handed to. So a field is what endless bars
of the local magnetisation make, from the charges at all unknowns, plus what is left, from the lines::

    H(x, y, z) = Σ_w a_w(y) H_w(x, z)  +  [H of the lines − Σ_w a_w(y) H_w of endless lines](x, y, z)

with a_w(y) a smooth curve near the amplitudes. The rest, and the coil in air with it, is smooth even where the
bars are; for strings it is tabulated once.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.interpolate import NdBSpline, make_interp_spline

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import Racetrack

from ..coil import air as coil_air
from ..constants import MU0
from ..interpolation import chebyshev
from ..line_answer import LineAnswer
from ..seam import Place, Sampled
from .bar_charges import fields_of, sections
from .ends import LongBars
from .line_charges import LineCharges
from .states import Magnetised

_ALONG = 16  # places of the table over x ≥ 0, over a string's height, and across
_UP = 6
_ACROSS = 20  # finer in all three moves S of the shipped blade by 0.1 %
_NEAR = 6e-3  # metres: places over x are denser than this near the bars
_DEGREE = 5
_CLOSE = 4e-3  # metres under the highest face: what lies in this is close
_POWERS = 4  # of y²: as much of an amplitude as counts as local
_INNER = 0.86  # of half a bar, where that is taken from


@dataclass(frozen=True, kw_only=True)
class BarTable:
    """Ranges of a table for strings that rise or fall by `slope` at the most.

    |x| up to `reach`, |y| up to `across`, z from `low` to `high` at x = 0, m, and by slope times |x| more elsewhere.
    """

    reach: float
    across: float
    low: float
    high: float
    slope: float

    def heights(self, x: Array) -> tuple[Array, Array]:
        """Lowest z at x, and how far it goes up from there: smooth in x."""
        more = self.slope * np.hypot(x, _NEAR)
        return self.low - more, self.high - self.low + 2 * more


@dataclass(frozen=True, kw_only=True, eq=False)
class Rest:
    """Six components, T and T per ampere and turn, over the ranges of a table, as a spline over x, y and the share of
    the height there."""

    table: BarTable
    spline: NdBSpline

    def __call__(self, points: Array) -> Array:
        """(6, n) at points (3, n)."""
        low, span = self.table.heights(points[0])
        at = np.stack([points[0], points[1], (points[2] - low) / span], axis=-1)
        return np.asarray(np.moveaxis(self.spline(at), -1, 0))


@dataclass(frozen=True, kw_only=True, eq=False)
class BarField:
    """Fields of a solved build of long bars.

    Attributes
    ----------
    bars : LongBars
    bias_state, signal : Magnetised
        At rest, and by one ampere in one turn.
    coils : tuple of Racetrack
        The one coil, of one turn.
    weights : array (1,)
        Its signed turns.
    odd : bool
        Whether the potential at rest is odd in x.
    rest : Rest or None
        The table.
    places : sequence of Place
    answers : sequence of LineAnswer
    """

    bars: LongBars
    bias_state: Magnetised
    signal: Magnetised
    coils: tuple[Racetrack, ...]
    weights: Array
    odd: bool
    rest: Rest | None = None
    places: Sequence[Place] = ()
    answers: Sequence[LineAnswer] = ()

    @property
    def mirrored(self) -> bool:
        """Whether B₀ and b are their own mirror image along the strings."""
        return self.bars.plane.half and not self.odd

    @property
    def spread(self) -> float:
        """How far from x = 0 the middle of the coil lies, m."""
        return abs(self.coils[0].x_centre)

    @property
    def turns(self) -> float:
        """1: the weights hold all turns."""
        return 1.0

    def connected(self, weights: Array) -> BarField:
        """The same with other turns."""
        return replace(self, weights=np.asarray(weights, dtype=float))

    def over(self, places: Sequence[Place], answers: Sequence[LineAnswer]) -> BarField:
        """The same under other strings."""
        return replace(self, places=tuple(places), answers=tuple(answers))

    def with_table(self, rest: Rest) -> BarField:
        """With what :meth:`tabulate` made."""
        return replace(self, rest=rest)

    def nearest(self, y: float) -> int:
        """Index of the place nearest to y."""
        return int(np.argmin([abs(p.y - y) for p in self.places]))

    def bias(self, points: Array) -> Array:
        """B₀ (3, n) in T."""
        return np.asarray((self._local(points) + self._rest(points))[:3])

    def reciprocal(self, points: Array) -> Array:
        """b (3, n) in T per ampere."""
        return np.asarray(self.weights[0] * (self._local(points) + self._rest(points))[3:])

    def parts(self, middle: float) -> tuple[Sampled, Sampled]:
        """B₀ and b (6, n) at points (3, n): of the local magnetisation, and of all else, from the table as far as
        that goes across."""
        turns = np.repeat([1.0, self.weights[0]], 3)[:, None]

        def away(points: Array) -> Array:
            beyond = np.abs(points[1]) > (self.rest.table.across if self.rest else 0.0)
            found = np.empty((6, points.shape[1]))
            if np.any(beyond):
                found[:, beyond] = self._rest(points[:, beyond])
            if self.rest and not np.all(beyond):
                found[:, ~beyond] = self.rest(points[:, ~beyond])
            return turns * found

        return (lambda points: turns * self._local(points)), away

    @cached_property
    def _curves(self) -> list[tuple[Array, Array]]:
        """Of each part and both states: the charges at close unknowns (n, powers) that go with even powers of y."""
        close = (self.top - self.bars.plane.section.nodes[1] < _CLOSE)[:, None]
        out = []
        for i, y in enumerate(self.bars.knots):
            still, moving = (close * s.own[i] @ _curve(y, s.amplitudes[i]).T for s in (self.bias_state, self.signal))
            out.append((still, moving))
        return out

    @cached_property
    def top(self) -> float:
        """Height of the highest bar, m."""
        return max(float(lines.z.max()) for lines in self.bars.lines)

    @cached_property
    def _near(self) -> list[int]:
        """The parts that are close enough to the strings for their charges to count one by one."""
        return [i for i, lines in enumerate(self.bars.lines) if self.top - float(lines.z.max()) < _CLOSE]

    @cached_property
    def _unknowns(self) -> list[LineCharges]:
        """The sections' charges, power by power."""
        nodes = self.bars.plane.section.nodes
        return [self._whole(nodes, *self._curves[i]) for i in self._near]

    @cached_property
    def _lines(self) -> list[LineCharges]:
        """The same on the lines."""
        return [self._whole(self.bars.lines[i].places, *(self.bars.gathered(i, q) for q in self._curves[i]))
                for i in self._near]

    def _whole(self, nodes: Array, still: Array, moving: Array) -> LineCharges:
        """Charges of both states with their images, without the places that hold none."""
        held = np.any(still != 0, axis=1) | np.any(moving != 0, axis=1)
        nodes, still, moving = nodes[:, held], still[held], moving[held]
        charges = np.concatenate([still, moving], axis=1)
        if self.bars.plane.half:
            nodes = np.concatenate([nodes, nodes * np.array([[-1.0], [1.0]])], axis=1)
            charges = np.concatenate([charges, np.concatenate([-still if self.odd else still, moving], axis=1)])
        return LineCharges(nodes=nodes, charges=charges)

    def _local(self, points: Array) -> Array:
        return self._endless(self._unknowns, points)

    def _endless(self, sources: Sequence[LineCharges], points: Array) -> Array:
        """B (6, n) of endless bars with the magnetisation that ours have at each point's y."""
        out = np.zeros((6, points.shape[1]))
        if not points.shape[1]:
            return out
        at, which = sections(np.round(points, 12))
        for charges, i in zip(sources, self._near, strict=True):
            share = np.abs(points[1]) / self.bars.halves[i]
            powers = np.where(share <= 1, np.power.outer(np.minimum(share, 1.0), 2 * np.arange(_POWERS)).T, 0.0)
            there = charges.field(at).reshape(2, _POWERS, 2, -1)[..., which]
            out[[0, 2, 3, 5]] += np.einsum("pn,spcn->scn", powers, there).reshape(4, -1)
        return out

    def _rest(self, points: Array) -> Array:
        """B (6, n) of what is not local, and b of the coil in air, per turn."""
        out = -self._endless(self._lines, points)
        for part in zip(self.bias_state.charges, self.signal.charges, strict=True):
            out += MU0 * fields_of(part, points).reshape(6, -1)
        out[3:] += coil_air.field(self.coils[0], points)
        return out

    def tabulate(self, t: BarTable) -> Rest:
        """The smooth rest of both fields, per turn, over these ranges."""
        half = _NEAR * np.sinh(np.linspace(0, np.arcsinh(t.reach / _NEAR), _ALONG))
        x = half if self.bars.plane.half else np.concatenate([-half[:0:-1], half])
        y, up = chebyshev(0.0, t.across, _ACROSS // 2), chebyshev(0.0, 1.0, _UP)
        y[-1], up[0], up[-1] = t.across, 0.0, 1.0
        X, Y, share = np.meshgrid(x, y, up, indexing="ij")
        low, span = t.heights(X)
        found = self._rest(np.stack([X, Y, low + share * span]).reshape(3, -1))
        values = np.moveaxis(found.reshape(6, *X.shape), 0, -1)
        # all is even in y but B_y, which is odd
        values = np.concatenate([values[:, ::-1] * np.array([1, -1, 1, 1, -1, 1]), values], axis=1)
        y = np.concatenate([-y[::-1], y])
        if self.bars.plane.half:
            sign = np.array([-1.0, 1.0, 1.0]) * (-1 if self.odd else 1)
            values = np.concatenate([values[:0:-1] * np.concatenate([sign, [-1.0, 1.0, 1.0]]), values])
            x = np.concatenate([-x[:0:-1], x])
        return Rest(table=t, spline=_spline((x, y, up), values))


def _curve(y: Array, a: Array) -> Array:
    """A smooth even function near amplitudes (ways, hats) at the places y ≥ 0: coefficients (powers, ways) of even
    powers of y over the last place."""
    share = np.sqrt(np.gradient(y)) * (y <= _INNER * y[-1])  # the last steep rise before an end is not local
    powers = np.power.outer(y / y[-1], 2 * np.arange(_POWERS))
    return np.asarray(np.linalg.lstsq(share[:, None] * powers, share[:, None] * a.T, rcond=None)[0])


def _spline(axes: tuple[Array, Array, Array], values: Array) -> NdBSpline:
    """A tensor spline through values (nx, ny, nz, c)."""
    knots = []
    for axis, places in enumerate(axes):
        one = make_interp_spline(places, np.moveaxis(values, axis, 0), k=_DEGREE, axis=0)
        values = np.moveaxis(np.asarray(one.c), 0, axis)
        knots.append(one.t)
    return NdBSpline(tuple(knots), np.ascontiguousarray(values), _DEGREE)
