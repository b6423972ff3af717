r"""What strings do to each other: each lies in the field of the others, and the coil's field of it too passes them.

Over string i the fields of magnets and coil are those of the pickup and those of its neighbours j::

    B₀ + Σ B[M_j],    b + Σ b[m_j],    m_j = dM_j per ampere in the coil, on its reversible slope

with what the pole below i answers to M_j and m_j. To the string's own field its neighbours answer as poles do:
charges q on it make potentials φ = g q on the pieces of j, fields h = D φ at its nodes, moments R h and charges P R h
there, so

    G(x, x') = g(x, s) (P R D) g(s', x'),    R = (1/(A χ) − K)⁻¹,    g = 1/(4π |x − s|)

A neighbour's part across is in its fields and not in its answer; M_j is that of a string which has no neighbours. λ
and S with and without, on the static curve, are compared. Against 3-D with one of two strings in the mesh as a body:
`tests/postprocess/string/test_neighbours.py`.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np
from scipy.linalg import block_diag

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.constants import MU0
from stringflux.solver.seam import Answer, Sampled, StringField

from ..records.neighbours import NeighbourEffect
from .linkage import level_model, rest_slopes
from .magnetisation import Layer
from .model import LEVEL, StringModel, StringState
from .numerics import SHIPPED, StringNumerics
from .own_field import MagnetisedLine

ANSWERS = 20e-3
"""Neighbours further away than this answer to a string next to nothing, m."""

_KEPT = 1e-4  # of the largest singular value of g over the pieces of a neighbour
_STEP = 20e-6  # m, for the slope of a potential along the strings


def neighbour_effects(field: StringField, strings: Sequence[tuple[StringShape, tuple[Layer, ...]]],
                      numerics: StringNumerics = SHIPPED) -> tuple[NeighbourEffect, ...]:
    """Every string with the others, against itself alone.

    Parameters
    ----------
    field : StringField
        Of the pickup without any string.
    strings : sequence of (StringShape, tuple of Layer)
        All of them, in their places of rest.

    Returns
    -------
    tuple of NeighbourEffect
        One a string; all NaN where one lies over a blade or bar, whose answer is known for a string in its own
        place alone.

    Raises
    ------
    SolveError
        Where a string's magnetisation does not settle.
    """
    if len(strings) > 1 and not all(field.answers[field.nearest(shape.y)].across for shape, _ in strings):
        unknown = float("nan")
        return tuple(NeighbourEffect(number=i, linkage=unknown, sensitivity=unknown)
                     for i in range(1, len(strings) + 1))
    halves = field.mirrored and all(abs(shape.slope) < LEVEL for shape, _ in strings)
    field = _Remembered(field, mirrored=halves)
    models = [level_model(field, shape, layers, numerics) for shape, layers in strings]
    alone = [rest_slopes(model) for model in models]
    lines = [_Neighbour(model, slopes.rest) for model, slopes in zip(models, alone, strict=True)]
    out = []
    for i, (model, slopes) in enumerate(zip(models, alone, strict=True)):
        others = [line for j, line in enumerate(lines) if j != i]
        among = rest_slopes(level_model(_Among(field, model, others), *strings[i], numerics)) if others else slopes
        out.append(NeighbourEffect(number=i + 1, linkage=_change(slopes.linked, among.linkage, slopes.linkage),
                                   sensitivity=_change(slopes.heard, among.z, slopes.z)))
    return tuple(out)


def _change(there: bool, now: float, before: float) -> float:
    return now / before - 1 if there else float("nan")


class _Neighbour:
    """A string at rest as its neighbours see it."""

    def __init__(self, model: StringModel, rest: StringState) -> None:
        self.model = model
        self.rest = magnetised_line(model, rest.moment[0], rest.moment_across[0])
        setting = model.setting(np.array([model.shape.y]), np.array([model.shape.axis_height]))
        on, off = (setting.near(rest, None, current) for current in (1.0, 0.0))
        self.signal = magnetised_line(model, (on.moment - off.moment)[0], (on.moment_across - off.moment_across)[0])
        chi = np.sum([layer.area * layer.law.reversible(np.abs(rest.axial.m[k, 0]))
                      for k, layer in enumerate(model.layers)], axis=0)
        ell = np.diff(model.grid.x)
        between, n = (ell[:-1] + ell[1:]) / 2, chi.size
        P = np.eye(n + 1, n, -1) - np.eye(n + 1, n)  # charges of the pieces from moments at the nodes
        response = np.linalg.solve(np.diag(1 / chi) - setting.kernel[0], -P.T / between[:, None])
        self.response = P @ response

    def potentials(self, x: Array, y: Array, z: Array, *, mirrored: bool) -> tuple[Array, Array, Array]:
        """g and its slopes with y and z, (…, pieces), at points in the pickup's frame; 1/m and 1/m²."""
        s, shape = self.model.grid.middle, self.model.shape
        total = [np.zeros((*x.shape, s.size)) for _ in range(3)]
        for at in (s, -s) if mirrored else (s,):
            Y, Z = (y - shape.y)[..., None], z[..., None] - (shape.axis_height + shape.slope * at)
            R = np.sqrt((x[..., None] - at) ** 2 + Y * Y + Z * Z)
            for sum_, part in zip(total, (1 / R, -Y / R**3, -Z / R**3), strict=True):
                sum_ += part / (4 * np.pi)
        return total[0], total[1], total[2]


def magnetised_line(model: StringModel, moment: Array, across: Array) -> MagnetisedLine:
    """A string with both its halves from its moments at the inner nodes (n,) and, across, at all (2, n + 2), A·m."""
    grid = model.grid
    x, along = grid.x, np.pad(moment[:grid.x.size - 2], 1)
    if grid.mirrored:  # M along is odd in x, across even
        x = np.concatenate([-x[:0:-1], x])
        along = np.concatenate([-along[:0:-1], along])
        across = np.concatenate([across[:, :0:-1], across], axis=1)
    return MagnetisedLine(shape=model.shape, x=x, along=along, across=across)


class _Remembered:
    """The pickup's field: what was asked for a string alone is not computed again for it among the others."""

    def __init__(self, of: StringField, *, mirrored: bool) -> None:
        self._of, self._known = of, dict[tuple[object, ...], Array]()
        self.mirrored, self.places, self.answers, self.spread = mirrored, of.places, of.answers, of.spread

    def nearest(self, y: float, /) -> int:
        return self._of.nearest(y)

    def parts(self, middle: float, /) -> tuple[Sampled, Sampled]:
        close, away = (partial(self._sampled, (middle, k), part) for k, part in enumerate(self._of.parts(middle)))
        return close, away

    def _sampled(self, which: tuple[float, int], part: Sampled, points: Array) -> Array:
        key = (*which, points.shape, points.tobytes())
        if key not in self._known:
            self._known[key] = part(points)
        return self._known[key]


class _Among:
    """The field over one string, its neighbours in their places."""

    def __init__(self, field: StringField, model: StringModel, others: Sequence[_Neighbour]) -> None:
        self._field, self._others = field, others
        self.mirrored, self.places, self.spread = field.mirrored, field.places, field.spread
        at = field.nearest(model.shape.y)
        self._below = _Answered(model, [other.rest for other in others], [other.signal for other in others])
        near = [o for o in others if abs(o.model.shape.y - model.shape.y) < ANSWERS]
        self.answers = [_Joined(answer, model, near) if i == at else answer
                        for i, answer in enumerate(field.answers)]

    def nearest(self, y: float, /) -> int:
        return self._field.nearest(y)

    def parts(self, middle: float, /) -> tuple[Sampled, Sampled]:
        close, away = self._field.parts(middle)

        def with_others(points: Array) -> Array:
            out = close(points) + self._below.fields(points)
            for other in self._others:
                out[:3] += other.rest.field(points)
                out[3:] += other.signal.field(points)
            return out

        return with_others, away


class _Answered:
    """What the pole below one string answers to the others, at rest and to one ampere."""

    def __init__(self, model: StringModel, rest: Sequence[MagnetisedLine], signal: Sequence[MagnetisedLine]) -> None:
        self._answer, self._pole = model.answer, model.pole
        modes = [sum(self._excited(line) for line in lines) for lines in (rest, signal)]
        self._modes = self._answer.matrix(False) @ np.stack(modes, axis=1)

    def _excited(self, line: MagnetisedLine) -> Array:
        x, shape = line.x, line.shape
        middle, ell = (x[1:] + x[:-1]) / 2, np.diff(x)
        weight = np.zeros_like(x)
        weight[:-1] += ell / 2
        weight[1:] += ell / 2

        def place(along: Array) -> tuple[Array, Array, Array]:
            return along, np.full_like(along, shape.y - self._pole.y), (
                shape.axis_height - self._pole.face + shape.slope * along)

        to_y, to_z = self._answer.gradient(*place(x), False)
        return np.asarray(self._answer.factor(*place(middle), False).T @ -np.diff(line.along)
                          + to_y.T @ (line.across[0] * weight) + to_z.T @ (line.across[1] * weight))

    def fields(self, points: Array) -> Array:
        """B in T and b in T/A (6, n) at points (3, n), m."""
        x, y, z = points[0], points[1] - self._pole.y, points[2] - self._pole.face
        ahead, behind = (self._answer.factor(x + d, y, z, False) for d in (_STEP, -_STEP))
        to_y, to_z = self._answer.gradient(x, y, z, False)
        slopes = [(ahead - behind) @ self._modes / (2 * _STEP), to_y @ self._modes, to_z @ self._modes]
        return -MU0 * np.concatenate([[s[:, k] for s in slopes] for k in (0, 1)])


class _Joined:
    """The answer of a pole and of the strings beside the one over it."""

    def __init__(self, pole: Answer, model: StringModel, others: Sequence[_Neighbour]) -> None:
        self._pole, self._place = pole, model.pole
        self._kept: list[tuple[_Neighbour, Array]] = []
        x, shape = model.grid.middle, model.shape
        there = x, np.full_like(x, shape.y), shape.axis_height + shape.slope * x
        for other in others:
            _, sizes, rows = np.linalg.svd(other.potentials(*there, mirrored=model.grid.mirrored)[0],
                                           full_matrices=False)
            self._kept.append((other, rows[sizes > _KEPT * sizes[0]].T))

    @property
    def across(self) -> bool:
        return self._pole.across

    def factor(self, x: Array, y: Array, z: Array, mirrored: bool, /) -> Array:
        return np.concatenate([self._pole.factor(x, y, z, mirrored),
                               *(f[0] for f in self._beside(x, y, z, mirrored=mirrored))], axis=-1)

    def gradient(self, x: Array, y: Array, z: Array, mirrored: bool, /) -> tuple[Array, Array]:
        to_y, to_z = self._pole.gradient(x, y, z, mirrored)
        beside = self._beside(x, y, z, mirrored=mirrored)
        return (np.concatenate([to_y, *(f[1] for f in beside)], axis=-1),
                np.concatenate([to_z, *(f[2] for f in beside)], axis=-1))

    def matrix(self, mirrored: bool, /) -> Array:
        return np.asarray(block_diag(self._pole.matrix(mirrored),
                                     *(kept.T @ other.response @ kept for other, kept in self._kept)))

    def _beside(self, x: Array, y: Array, z: Array, *, mirrored: bool) -> list[tuple[Array, ...]]:
        at = x, y + self._place.y, z + self._place.face
        return [tuple(f @ kept for f in other.potentials(*at, mirrored=mirrored)) for other, kept in self._kept]
