r"""What strings do to each other: each lies in the field of the others, and the coil's field of it too passes them.

Over string i the fields of magnets and coil are those of the pickup and those of its neighbours j::

    B₀ + Σ B[M_j],    b + Σ b[m_j],    m_j = dM_j per ampere in the coil, on its reversible slope

with what the pole below i answers to M_j and m_j. To the string's own field its neighbours answer as poles do:
charges q on it make potentials φ = g q on the pieces of j, fields h = D φ at its nodes, moments R h and charges P R h
there, so

    G(x, x') = g(x, s) (P R D) g(s', x'),    R = (1/(A χ) − K)⁻¹,    g = 1/(4π |x − s|)

A neighbour's part across is in its fields and not in its answer; M_j is that of a string at rest on its static curve
which has no neighbours. One of which half is computed answers to what is even in x alone, h = g(x, s) + g(x, −s) and
G = ½ h (P R D) h': a level string is not odd. Against 3-D with one of two strings in the mesh as a body:
`tests/postprocess/string/test_neighbours.py`.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from hashlib import blake2b

import numpy as np
from scipy.linalg import block_diag

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.across import slopes
from stringflux.solver.constants import MU0
from stringflux.solver.materials import Materials
from stringflux.solver.seam import Across, Answer, Place, Sampled, StringField

from .heard import heard_model
from .layers import layers_of
from .model import LEVEL, StringModel
from .numerics import SHIPPED, StringNumerics
from .own_field import MagnetisedLine, fields
from .sources import Sources, all_of, joined, sources
from .whole import Whole

ANSWERS = 20e-3
"""Neighbours further away than this answer to a string next to nothing, m."""

_SMOOTH = 5e-3  # m: the fields of neighbours further away are sampled on the coarse places
_KEPT = 1e-2  # of the largest singular value of g over the pieces of a neighbour


class StringsTogether:
    """The strings of a pickup in their places of rest, each as the others see it.

    Parameters
    ----------
    field : StringField
        Of the pickup without any string.
    shapes : sequence of StringShape
        All of them.
    materials : Materials
    numerics : StringNumerics
    """

    def __init__(self, field: StringField, shapes: Sequence[StringShape], materials: Materials,
                 numerics: StringNumerics = SHIPPED) -> None:
        self._field, self._shapes, self._numerics = field, tuple(shapes), numerics
        self._materials, self._lone, self._known = materials, dict[int, StringModel](), dict[int, StringBeside]()

    @cached_property
    def known(self) -> bool:
        """Whether there are several, and what they do to each other is known: every place below answers to strings
        further across."""
        return len(self._shapes) > 1 and all(self._field.answers[self._field.nearest(s.y)].across is not None
                                             for s in self._shapes)

    def alone(self, number: int) -> StringModel:
        """That string, by its number from 1, without the others, its fields tabulated for what is heard of it."""
        if number not in self._lone:
            shape = self._shapes[number - 1]
            self._lone[number] = heard_model(self._whole, shape, layers_of(shape, self._materials), self._numerics)
        return self._lone[number]

    def over(self, number: int, shape: StringShape | None = None) -> StringField:
        """The field over a string, by its number from 1, the others in their places.

        Parameters
        ----------
        shape : StringShape, optional
            Where that string has been put, if it is not in its place.

        Returns
        -------
        StringField
            The pickup's own where there is no other string, or where :attr:`known` is not.

        Raises
        ------
        SolveError
            Where the magnetisation of a neighbour does not settle.
        """
        if not self.known:
            return self._field
        shape = shape or self._shapes[number - 1]
        others = [self._beside(j) for j in range(1, len(self._shapes) + 1) if j != number]
        return _Among(self._whole, shape, others)

    @cached_property
    def _whole(self) -> _Remembered:
        level = self._field.mirrored and all(abs(shape.slope) < LEVEL for shape in self._shapes)
        return _Remembered(self._field, mirrored=level)

    def _beside(self, number: int) -> StringBeside:
        if number not in self._known:
            self._known[number] = beside(self.alone(number))
        return self._known[number]


@dataclass(frozen=True, kw_only=True, eq=False)
class StringBeside:
    """A string at rest as its neighbours see it.

    Attributes
    ----------
    places : array (pieces,)
        Where its pieces lie along it, m.
    mirrored : bool
        Whether the half x < 0 of it follows from symmetry.
    rest, signal : MagnetisedLine
        At rest, and what one ampere in the coil makes of it.
    response : array (pieces, pieces)
        Charges of the pieces from potentials on them, m.
    """

    places: Array
    mirrored: bool
    rest: MagnetisedLine
    signal: MagnetisedLine
    response: Array

    @property
    def shape(self) -> StringShape:
        return self.rest.shape

    def away(self, shape: StringShape) -> float:
        """How far across another string is, m; at least its own radius."""
        return max(abs(shape.y - self.shape.y), self.shape.outer_radius)

    def seen_from(self, shape: StringShape) -> StringBeside:
        """With pieces as long as another string's place needs."""
        together = joined(self.places, self.away(shape))
        return replace(self, places=together @ self.places / together.sum(axis=1),
                       response=together @ self.response @ together.T)

    def potentials(self, x: Array, y: Array, z: Array) -> Array:
        """g (…, pieces) at points in the pickup's frame, 1/m."""
        return np.asarray(sum(1 / np.sqrt(square) for _, _, square in self._apart(x, y, z)) / (4 * np.pi))

    def slopes(self, x: Array, y: Array, z: Array) -> tuple[Array, Array]:
        """∂g/∂y and ∂g/∂z (…, pieces), 1/m²."""
        each = []
        for Y, Z, square in self._apart(x, y, z):
            cube = -1 / (4 * np.pi * square * np.sqrt(square))
            each.append((Y * cube, Z * cube))
        to_y, to_z = (np.asarray(sum(of)) for of in zip(*each, strict=True))
        return to_y, to_z

    def _apart(self, x: Array, y: Array, z: Array) -> Iterator[tuple[Array, Array, Array]]:
        """How far points are from the pieces, across, up and squared; from their images too."""
        s, shape = self.places, self.shape
        Y = (y - shape.y)[..., None]
        for at in (s, -s) if self.mirrored else (s,):
            Z = z[..., None] - (shape.axis_height + shape.slope * at)
            yield Y, Z, (x[..., None] - at) ** 2 + np.maximum(Y * Y + Z * Z, shape.outer_radius**2)


def beside(model: StringModel) -> StringBeside:
    """A string over the pickup alone, at rest, as its neighbours will see it."""
    shape, layers = model.shape, model.layers
    setting = model.setting(np.array([shape.y]), np.array([shape.axis_height]))
    rest = setting.static()
    on, off = (setting.near(rest, None, current) for current in (1.0, 0.0))
    chi = np.sum([layer.area * layer.law.reversible(np.abs(rest.axial.m[k, 0]))
                  for k, layer in enumerate(layers)], axis=0)
    ell = np.diff(model.grid.x)
    between, n = (ell[:-1] + ell[1:]) / 2, chi.size
    P = np.eye(n + 1, n, -1) - np.eye(n + 1, n)  # charges of the pieces from moments at the nodes
    response = np.linalg.solve(np.diag(1 / chi) - setting.kernel[0], -P.T / between[:, None])
    return StringBeside(places=model.grid.middle, mirrored=model.grid.mirrored, response=P @ response,
                  rest=magnetised_line(model, rest.moment[0], rest.moment_across[0]),
                  signal=magnetised_line(model, (on.moment - off.moment)[0],
                                         (on.moment_across - off.moment_across)[0]))


def magnetised_line(model: StringModel, moment: Array, across: Array) -> MagnetisedLine:
    """A string with both its halves from its moments at the inner nodes (n,) and, across, at all (2, n + 2), A·m."""
    grid = model.grid
    x, along = grid.x, np.pad(moment[:grid.x.size - 2], 1)
    if grid.mirrored:  # M along is odd in x, across even
        x = np.concatenate([-x[:0:-1], x])
        along = np.concatenate([-along[:0:-1], along])
        across = np.concatenate([across[:, :0:-1], across], axis=1)
    return MagnetisedLine(shape=model.shape, x=x, along=along, across=across)


class _Remembered(Whole):
    """The pickup's field, which a string alone over it is told first and then asked for again among the others."""

    def __init__(self, of: StringField, *, mirrored: bool) -> None:
        super().__init__(of, mirrored=mirrored)
        self._known = dict[tuple[object, ...], Array]()

    def parts(self, middle: float, /) -> tuple[Sampled, Sampled]:
        close, away = (partial(self._told, (middle, k), part) for k, part in enumerate(self.of.parts(middle)))
        return close, away

    def again(self, which: tuple[float, int], part: Sampled, points: Array) -> Array:
        """What is known is handed out once."""
        found = self._known.pop(_key(which, points), None)
        return part(points) if found is None else found

    def _told(self, which: tuple[float, int], part: Sampled, points: Array) -> Array:
        found = self._known[_key(which, points)] = part(points)
        return found


def _key(which: tuple[float, int], points: Array) -> tuple[object, ...]:
    return (*which, points.shape, blake2b(np.ascontiguousarray(points).tobytes(), digest_size=16).digest())


class _Among(Whole):
    """The field over one string, its neighbours in their places."""

    def __init__(self, whole: _Remembered, shape: StringShape, others: Sequence[StringBeside]) -> None:
        super().__init__(whole, mirrored=whole.mirrored)
        self._whole, field = whole, whole.of
        at = field.nearest(shape.y)
        self._close = [o for o in others if o.away(shape) < _SMOOTH]
        seen = [sources((o.rest, o.signal), o.away(shape)) for o in others]
        self._below = _Answered(field.answers[at], field.places[at], all_of(seen))
        away = [one for o, one in zip(others, seen, strict=True) if o not in self._close]
        self._away = all_of(away) if away else None
        near = [o for o in others if abs(o.shape.y - shape.y) < ANSWERS]
        self.answers = [_Joined(answer, field.places[at], shape, near) if i == at else answer
                        for i, answer in enumerate(field.answers)]

    def parts(self, middle: float, /) -> tuple[Sampled, Sampled]:
        close, away = (partial(self._whole.again, (middle, k), part)
                       for k, part in enumerate(self._whole.of.parts(middle)))

        def close_by(points: Array) -> Array:
            return close(points) + _fields(self._close, points) if self._close else close(points)

        def all_else(points: Array) -> Array:
            out = away(points) + self._below.fields(points)
            return out if self._away is None else out + self._away.field(points).reshape(6, -1)

        return close_by, all_else


def _fields(others: Sequence[StringBeside], points: Array) -> Array:
    """B in T and b in T/A (6, n) of strings; within one as on its surface."""
    out = np.zeros((6, points.shape[1]))
    for other in others:
        shape = other.shape
        y, z = points[1] - shape.y, points[2] - shape.axis_height - shape.slope * points[0]
        out_of_it = np.maximum(1.0, 1.01 * shape.outer_radius / np.maximum(np.hypot(y, z), 1e-9))
        at = np.stack([points[0], shape.y + out_of_it * y, points[2] + (out_of_it - 1) * z])
        out += fields((other.rest, other.signal), at).reshape(6, -1)
    return out


def _across(answer: Answer) -> Across:
    """Of an answer that has one."""
    if answer.across is None:
        raise ValueError("this answer is that to a string in its own place alone")
    return answer.across


class _Answered:
    """What the pole below one string answers to the others, at rest and to one ampere."""

    def __init__(self, answer: Answer, pole: Place, others: Sources) -> None:
        self._answer, self._pole = answer, pole
        self._modes = _across(answer).driven(*self._place(others.at.T), others.charge, others.dipole, False)

    def _place(self, points: Array) -> tuple[Array, Array, Array]:
        return points[0], points[1] - self._pole.y, points[2] - self._pole.face

    def fields(self, points: Array) -> Array:
        """B in T and b in T/A (6, n) at points (3, n), m."""
        each = [slope @ self._modes for slope in slopes(self._answer, *self._place(points))]
        return -MU0 * np.concatenate([[s[:, k] for s in each] for k in (0, 1)])


class _Joined:
    """The answer of a pole and of the strings beside the one over it."""

    def __init__(self, pole: Answer, place: Place, shape: StringShape, others: Sequence[StringBeside]) -> None:
        self._pole, self._place = pole, place
        self._kept: list[tuple[StringBeside, Array]] = []
        self._ways = dict[tuple[int, bool], Array]()
        for other in (o.seen_from(shape) for o in others):
            x = other.places
            _, sizes, rows = np.linalg.svd(
                other.potentials(x, np.full_like(x, shape.y), shape.axis_height + shape.slope * x),
                full_matrices=False)
            self._kept.append((other, rows[sizes > _KEPT * sizes[0]].T))

    @property
    def across(self) -> Across | None:
        return self._pole.across

    def factor(self, x: Array, y: Array, z: Array, mirrored: bool, /) -> Array:
        at = x, y + self._place.y, z + self._place.face
        return np.concatenate([self._pole.factor(x, y, z, mirrored),
                               *(other.potentials(*at) @ kept for other, kept in self._kept)], axis=-1)

    def gradient(self, x: Array, y: Array, z: Array, mirrored: bool, /) -> tuple[Array, Array]:
        at = x, y + self._place.y, z + self._place.face
        beside = [[slope @ kept for slope in other.slopes(*at)] for other, kept in self._kept]
        to_y, to_z = (np.concatenate(every, axis=-1)
                      for every in zip(self._pole.gradient(x, y, z, mirrored), *beside, strict=True))
        return to_y, to_z

    def matrix(self, mirrored: bool, /) -> Array:
        own = self._pole.matrix(mirrored)
        parts = [kept.T @ other.response @ kept * (0.5 if other.mirrored and not mirrored else 1.0)
                 for other, kept in self._kept]
        found = np.asarray(block_diag(own, *parts))
        if not _across(self._pole).between:
            return found
        n = first = len(own)
        for (other, kept), T in zip(self._kept, parts, strict=True):
            C, mine = self._by_way_of_pole(other, kept, mirrored), slice(first, first + len(T))
            found[:n, :n] += C @ T @ C.T
            found[:n, mine] = C @ T
            found[mine, :n] = found[:n, mine].T
            first += len(T)
        return found

    def _by_way_of_pole(self, other: StringBeside, kept: Array, mirrored: bool) -> Array:
        """C (k, …): F C is what the body below answers to the string over it, where another lies."""
        key = id(other), mirrored
        if key not in self._ways:
            shape, none = other.shape, np.zeros((*kept.shape, 3))
            both = (other.places, -other.places) if other.mirrored and not mirrored else (other.places,)
            self._ways[key] = np.asarray(sum(_across(self._pole).driven(
                x, np.full_like(x, shape.y - self._place.y),
                shape.axis_height + shape.slope * x - self._place.face, kept, none, mirrored) for x in both))
        return self._ways[key]
