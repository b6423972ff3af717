r"""A string taken from place to place, its metal with the memory of where it was.

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
from dataclasses import dataclass, replace

import numpy as np

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
    """A layer at a place: the state of its metal (cells + 1, n), what is inside it, and the wire's M (n,), A/m."""

    state: Array
    inside: Inside
    m: Array


class March:
    """A string on its way; begins demagnetised in no field.

    Parameters
    ----------
    layers : sequence of HeldLayer
    length : array (n,)
        What each inner node stands for, m.
    settled : float
        A place is found when Newton's step is as small a part of how far the field outside went; what is left is of
        the order of its square.
    """

    def __init__(self, layers: Sequence[HeldLayer], length: Array, settled: float = 1e-2) -> None:
        n = length.size
        self.layers, self._length, self._settled = tuple(layers), length, settled
        self.past = [Past(state=layer.memory.demagnetised((n,)), inside=layer.at_rest(n), m=np.zeros(n))
                     for layer in layers]
        self._field, self._outside, self._left = np.zeros(n), np.zeros(n), 0.0
        self._before: tuple[Array, Array] | None = None  # how both changed on the way to the last place

    def copy(self) -> March:
        """Another string with the same past."""
        other = March(self.layers, self._length, self._settled)
        other.past, other._field, other._outside, other._before = self.past, self._field, self._outside, self._before
        other._left = self._left
        return other

    def go(self, outside: Array, across: Array, kernel: Array) -> Array:
        """To a place.

        Parameters
        ----------
        outside, across : arrays (n,)
            Axial field from outside and modulus of the field across, A/m.
        kernel : array (n, n)
            Field at the nodes per moment, 1/m².

        Returns
        -------
        array (layers, n)
            M along the string, A/m.

        Raises
        ------
        SolveError
            Where it does not settle.
        """
        field = self._guess(outside)
        scale = float(np.max(np.abs(outside))) + 1e-9
        enough = max(_TOLERANCE * scale, self._settled * float(np.max(np.abs(outside - self._outside))),
                     _AS_LAST * self._left)
        inside = [replace(p.inside, h=field if layer.wrap is None else p.inside.h)
                  for layer, p in zip(self.layers, self.past, strict=True)]
        found = self._responses(inside, across)
        moments: list[Array] | None = None
        for turn in range(_MOST_STEPS):
            slopes, straight = np.zeros_like(field), np.zeros_like(field)
            for layer, r in zip(self.layers, found, strict=True):
                slopes += layer.area * r.along
                straight += layer.area * r.gain * (r.m + r.slope * r.step(field))
            jacobian = -kernel * slopes
            jacobian.flat[:: field.size + 1] += 1.0
            new: Array = np.linalg.solve(jacobian, outside + kernel @ (straight - slopes * field)).astype(float)
            calm = 1.0 if turn < _PATIENT else _CALM if turn < 3 * _PATIENT else _CALM**2
            steps = [calm * r.step(new) for r in found]
            ends = [layer.area * (r.m + r.slope * d) for layer, r, d in zip(self.layers, found, steps, strict=True)]
            size = max(float(np.max(np.abs(d))) for d in steps) / calm
            last = size < enough
            whole = last or (turn % _FREE == _FREE - 1 and size < _SMALL * scale)
            near = _NEAR * size if turn >= _PATIENT else 0.0
            share, found = self._along(found, steps, (None if whole else moments, ends), across, near)
            moments = ends if moments is None or share == 1.0 else [
                a + share * (b - a) for a, b in zip(moments, ends, strict=True)]
            field = field + share * calm * (new - field)
            if last:
                self._left = enough
                self._arrive(outside, field, found)
                return np.stack([r.gain * r.m for r in found])
        raise SolveError(
            f"the magnetisation of a string with memory did not settle within {_MOST_STEPS} Newton steps; check the "
            "string steel's curve and pinning, and that the gap is not too small")

    def _guess(self, outside: Array) -> Array:
        """The field along the string, gone on with as before."""
        if self._before is None:
            return self._field
        last, change = self._before
        size = float(last @ last)
        further = float((outside - self._outside) @ last) / size if size else 0.0
        return self._field + min(max(further, -_AS_BEFORE), _AS_BEFORE) * change

    def _arrive(self, outside: Array, field: Array, found: list[Response]) -> None:
        if np.any(outside != self._outside):
            self._before = (outside - self._outside, field - self._field)
        self._outside, self._field = outside, field
        self.past = [Past(state=layer.memory.moved(p.state, r.inside.h), inside=r.inside, m=r.m)
                     for layer, p, r in zip(self.layers, self.past, found, strict=True)]

    def _responses(self, inside: Sequence[Inside], across: Array, near: float = 0.0) -> list[Response]:
        return [layer.response(p.state, i, across, near)
                for layer, p, i in zip(self.layers, self.past, inside, strict=True)]

    def _along(self, found: list[Response], steps: list[Array], moments: tuple[list[Array] | None, list[Array]],
               across: Array, near: float) -> tuple[float, list[Response]]:
        """How much of a step to go, and the responses there.

        The derivative along it is Σ (A m(h) − P)·δh; P, what the fields inside stand for by H₀ and K, goes straight
        from the first of `moments` to the second.
        """
        begin, ends = moments
        share = 1.0

        def there(part: float) -> tuple[list[Response], float]:
            new = self._responses([Inside(h=r.inside.h + part * d, across=r.inside.across, a=r.inside.a)
                                   for r, d in zip(found, steps, strict=True)], across, near)
            if begin is None:
                return new, 0.0
            slope = 0.0
            for layer, r, d, a, b in zip(self.layers, new, steps, begin, ends, strict=True):
                slope += float(np.sum(self._length * (layer.area * r.m - a - part * (b - a)) * d))
            return new, slope

        new, slope = there(1.0)
        if begin is None:
            return 1.0, new
        first = sum(float(np.sum(self._length * (layer.area * r.m - a) * d))
                    for layer, r, a, d in zip(self.layers, found, begin, steps, strict=True))
        low, high = (0.0, first), (1.0, slope)
        for _ in range(_SHORTENED):
            if slope <= _TOO_FAR * abs(first):
                break
            share = low[0] + (high[0] - low[0]) * min(max(low[1] / (low[1] - high[1]), 0.1), 0.9)
            new, slope = there(share)
            if slope > 0:
                high = (share, slope)
            else:
                low = (share, slope)
        return share, new
