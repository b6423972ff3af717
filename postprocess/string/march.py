r"""Strings taken from place to place, their metal with the memory of where they were.

At every place, at the inner nodes of the grid::

    H = H₀ + K Σ_l A_l M_l            M_l by what the layer's metal remembers (:mod:`.held`)

With −K positive this is the least of a convex function of the fields in the layers' metal, so there is one state.
Newton's method finds it, with the derivative along each step to see whether it went too far: the metal's curve is
steep where it drags its walls along and flat before.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError

from .held import HeldLayer, Inside, Response

_TOLERANCE = 1e-6  # of the largest field outside
_MOST_STEPS = 80
_TOO_FAR = 0.5  # of the derivative along a step that it may have at its end, upwards
_SHORTENED = 8
_PATIENT, _NEAR = 8, 4.0  # after so many steps what lies within so many of the last step counts as dragged along
_CALM = 0.5  # of a step is gone then: the field across in the metal and a wrap's gaps follow a step behind
_AS_LAST = 0.3  # of what the last place was left with: closer than that the state itself is not known
_AS_BEFORE = 4.0  # times the last change a guess may go on: after a step of next to nothing it says nothing
_SMALL, _FREE = 1e-2, 4  # every fourth of the small steps is gone whole: a wrap's gaps shift that derivative a little


@dataclass(frozen=True, kw_only=True, eq=False)
class Past:
    """A layer of b strings at a place: the state of its metal (cells + 1, b, n), what is inside it, and the wire's M
    (b, n), A/m."""

    state: Array
    inside: Inside
    m: Array


class March:
    """Strings side by side on their way, each for itself; they begin demagnetised in no field.

    Parameters
    ----------
    layers : sequence of HeldLayer
        Of one metal for all strings, or of one for each.
    length : array (n,) or (b, n)
        What each inner node stands for, m; 0 for one that is none.
    settled : float
        A place is found when Newton's step is as small a part of how far the field outside went; what is left is of
        the order of its square.
    strings : int
        How many, b.

    Attributes
    ----------
    past : list of Past
        Of each layer.
    along : array (layers, b, n)
        M along the strings, A/m.
    """

    def __init__(self, layers: Sequence[HeldLayer], length: Array, settled: float = 1e-2, strings: int = 1) -> None:
        shape = strings, length.shape[-1]
        self.layers, self._length, self._settled = tuple(layers), np.broadcast_to(length, shape), settled
        self.past = [Past(state=layer.memory.demagnetised(shape), inside=layer.at_rest(shape), m=np.zeros(shape))
                     for layer in layers]
        self.along = np.zeros((len(layers), *shape))
        self._field, self._outside, self._left = np.zeros(shape), np.zeros(shape), np.zeros(strings)
        self._before: tuple[Array, Array] | None = None  # how both changed on the way to the last place

    def first(self, n: int) -> March:
        """The first n of the strings, with the past that these have here."""
        return self._of(slice(0, n), [layer.first(n) for layer in self.layers])

    def only(self, i: int, layers: Sequence[HeldLayer]) -> March:
        """String i alone, of its own layers."""
        return self._of(slice(i, i + 1), layers)

    def _of(self, which: slice, layers: Sequence[HeldLayer]) -> March:
        other = copy(self)
        other.layers = tuple(layers)
        if which == slice(0, len(self._field)):
            return other
        other.past = [Past(state=p.state[:, which], m=p.m[which], inside=Inside(
            h=p.inside.h[which], across=p.inside.across[which], a=p.inside.a[which])) for p in self.past]
        other.along, other._left, other._length = self.along[:, which], self._left[which], self._length[which]
        other._field, other._outside = self._field[which], self._outside[which]
        other._before = None if self._before is None else (self._before[0][which], self._before[1][which])
        return other

    def go(self, outside: Array, across: Array, kernel: Array) -> None:
        """To a place.

        Parameters
        ----------
        outside, across : arrays (b, n)
            Axial field from outside and modulus of the field across, A/m.
        kernel : array (b, n, n)
            Field at the nodes per moment, 1/m².

        Raises
        ------
        SolveError
            Where it does not settle.
        """
        field = self._guess(outside)
        scale = np.max(np.abs(outside), axis=1) + 1e-9
        further = np.max(np.abs(outside - self._outside), axis=1)
        enough = np.maximum(np.maximum(_TOLERANCE * scale, self._settled * further), _AS_LAST * self._left)
        found = self._responses([
            Inside(h=field if layer.wrap is None else p.inside.h, across=p.inside.across, a=p.inside.a)
            for layer, p in zip(self.layers, self.past, strict=True)], across)
        moments: list[Array] | None = None
        arrived, kept = np.zeros(len(field), dtype=bool), _rows(field, found)
        for turn in range(_MOST_STEPS):
            slopes, straight = np.zeros_like(field), np.zeros_like(field)
            for layer, r in zip(self.layers, found, strict=True):
                slopes += layer.area * r.along
                straight += layer.area * r.gain * (r.m + r.slope * r.step(field))
            jacobian = kernel * -slopes[:, None, :]
            jacobian.reshape(len(field), -1)[:, :: field.shape[1] + 1] += 1.0
            right = outside[..., None] + kernel @ (straight - slopes * field)[..., None]
            new: Array = np.linalg.solve(jacobian, right)[..., 0].astype(float, copy=False)
            calm = 1.0 if turn < _PATIENT else _CALM if turn < 3 * _PATIENT else _CALM**2
            steps = [calm * r.step(new) for r in found]
            ends = [layer.area * (r.m + r.slope * d) for layer, r, d in zip(self.layers, found, steps, strict=True)]
            size = np.max([np.max(np.abs(d), axis=1) for d in steps], axis=0) / calm
            last = arrived | (size < enough)
            whole = last | (size < _SMALL * scale) if turn % _FREE == _FREE - 1 else last
            near = _NEAR * size[:, None] if turn >= _PATIENT else 0.0
            share, found = self._along(found, steps, (moments, ends), whole, across, near)
            moments = ends if moments is None else [
                a + share[:, None] * (b - a) for a, b in zip(moments, ends, strict=True)]
            field = field + (share * calm)[:, None] * (new - field)
            if np.any(last):
                now = last & ~arrived
                kept = np.where(now[:, None], _rows(field, found), kept)  # a string that has arrived stays there
                arrived = last
                if np.all(arrived):
                    self._left = enough
                    self._arrive(outside, kept)
                    return
        raise SolveError(
            f"the magnetisation of a string with memory did not settle within {_MOST_STEPS} Newton steps; check the "
            "string steel's curve and pinning, and that the gap is not too small")

    def _guess(self, outside: Array) -> Array:
        """The field along the string, gone on with as before."""
        if self._before is None:
            return self._field
        last, change = self._before
        size = np.sum(last * last, axis=1)
        further = np.sum((outside - self._outside) * last, axis=1) / np.where(size > 0.0, size, 1.0)
        far: Array = np.minimum(np.maximum(further, -_AS_BEFORE), _AS_BEFORE)[:, None]
        return self._field + far * change

    def _arrive(self, outside: Array, rows: Array) -> None:
        field, layers = rows[0], rows[1:].reshape(len(self.layers), -1, *outside.shape)
        moved = np.any(outside != self._outside, axis=1)[:, None]
        if np.any(moved):
            last, change = outside - self._outside, field - self._field
            self._before = (last, change) if self._before is None else (
                np.where(moved, last, self._before[0]), np.where(moved, change, self._before[1]))
        self._outside, self._field = outside, field
        self.past = [Past(state=layer.memory.moved(p.state, h), inside=Inside(h=h, across=across, a=a), m=m)
                     for layer, p, (h, across, a, m, _) in zip(self.layers, self.past, layers, strict=True)]
        self.along = layers[:, -1]

    def _responses(self, inside: Sequence[Inside], across: Array, near: Array | float = 0.0) -> list[Response]:
        return [layer.response(p.state, i, across, near)
                for layer, p, i in zip(self.layers, self.past, inside, strict=True)]

    def _along(self, found: list[Response], steps: list[Array], moments: tuple[list[Array] | None, list[Array]],
               whole: npt.NDArray[np.bool_], across: Array, near: Array | float) -> tuple[Array, list[Response]]:
        """How much of a step each string is to go (b,), all of it where `whole`, and the responses there.

        The derivative along it is Σ (A m(h) − P)·δh; P, what the fields inside stand for by H₀ and K, goes straight
        from the first of `moments` to the second.
        """
        begin, ends = moments

        def there(part: Array) -> list[Response]:
            return self._responses([Inside(h=r.inside.h + part[:, None] * d, across=r.inside.across, a=r.inside.a)
                                    for r, d in zip(found, steps, strict=True)], across, near)

        share = np.ones(len(whole))
        new = there(share)
        if begin is None or np.all(whole):
            return share, new

        def derivative(at: list[Response], part: Array) -> Array:
            slope = np.zeros(len(whole))
            for layer, r, d, a, b in zip(self.layers, at, steps, begin, ends, strict=True):
                slope += np.sum((layer.area * r.m - a - part[:, None] * (b - a)) * d * self._length, axis=1)
            return slope

        first, slope = derivative(found, 0.0 * share), derivative(new, share)
        low, high = (0.0 * share, first), (share, slope)
        for _ in range(_SHORTENED):
            far = ~whole & (slope > _TOO_FAR * np.abs(first))
            if not np.any(far):
                break
            between = np.where(far, low[1] - high[1], 1.0)
            trial = low[0] + (high[0] - low[0]) * np.minimum(np.maximum(low[1] / between, 0.1), 0.9)
            share = np.where(far, trial, share)
            new = there(share)
            slope = derivative(new, share)
            over = far & (slope > 0)
            under = far & ~over
            high = np.where(over, share, high[0]), np.where(over, slope, high[1])
            low = np.where(under, share, low[0]), np.where(under, slope, low[1])
        return share, new


def _rows(field: Array, found: Sequence[Response]) -> Array:
    """What is kept of strings that arrive (1 + 5 layers, b, n)."""
    out = [field]
    for r in found:
        out += [r.inside.h, r.inside.across, r.inside.a, r.m, r.gain * r.m]
    return np.stack(out)
