r"""One string over a pole of changing shape: λ at five heights as a function of ring charges, and backwards.

Everything that does not change with the pole is computed once: the rings' fields along the string (averaged as in
:mod:`.string.model`), the coil's own field, the string's own kernel, and A, G, the modes of the pole's answer at
the string's charges and dipoles. With T the axial moment, t the moment across, S the pole's answer ::

    H = H₀ + K T − (1/h) A S (Aᵀ T + d)      d = Gᵀ w t      H_across = H₀,across − G S (Aᵀ T + d)
    λ = Σ w t·b_across + Σ w T b_along

solved as there, in two passes between along and across; backwards the same passes are gone through from the end,
with one linear solve in each (the transposed Jacobian of the axial equation).

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import PlacedPole, Racetrack, StringShape
from stringflux.solver.coil import air as coil_air
from stringflux.solver.constants import MU0
from stringflux.solver.row.rings import Rings
from stringflux.solver.row.string_answer import StringAnswer

from ..string.grid import StringGrid, self_potential
from ..string.magnetisation import Layer, solve_static
from .ring_fields import ORDERS, unit_fields
from .slopes import across_slopes, axial_slopes

HEIGHTS = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
PASSES = 2


@dataclass(frozen=True, kw_only=True, eq=False)
class StringWeights:
    """∂J/∂ of what a string is computed from.

    Attributes
    ----------
    bias, signal : lists of arrays (orders, K), by pole
        With the ring charges (signal: per ampere in one turn).
    response : array (k, k)
        With S of :meth:`StringAnswer.matrix`.
    """

    bias: list[Array]
    signal: list[Array]
    response: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class Linkages:
    """λ at the five heights, Wb, B₀ z on the axis over the pole at rest, T, and what :meth:`back` needs."""

    linkage: Array
    bias: float
    passes: tuple[_Pass, ...]
    fields: tuple[Array, Array, Array, Array]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Pass:
    """What one pass saw and found: field across before it, moments, H, modes of charges and dipoles."""

    across: Array
    h: Array
    before: Array | None
    moment_across: Array
    moment: Array
    dipoles: Array
    modes: Array


class ShapeString:
    """A string's constants.

    Parameters
    ----------
    shape, layers, grid, radius
        The string as :func:`.string.model.string_model` makes it.
    step : float
        Between the heights, m.
    places, rings : by pole
    coil : Racetrack
        With its turns and sense.
    answer : StringAnswer
        Of the pole below; only its modes count.
    pole : int
        Which one that is.
    """

    def __init__(self, shape: StringShape, layers: tuple[Layer, ...], grid: StringGrid, radius: float, step: float,
                 places: Sequence[PlacedPole], rings: Sequence[Rings], coil: Racetrack, answer: StringAnswer,
                 pole: int) -> None:
        self.shape, self.layers, self.grid, self.pole, self.step = shape, layers, grid, pole, step
        self.turns = coil.turns * coil.sense
        z = shape.axis_height + step * HEIGHTS
        points = self._circles(z, radius)
        self._along: list[Array] = []
        self._across: list[Array] = []
        self._over: list[Array] = []
        for place, ring in zip(places, rings, strict=True):
            along, across, over = self._taken(unit_fields(points, place, ring))
            self._along.append(along)
            self._across.append(across)
            self._over.append(over)
        own = coil_air.field(coil, points.reshape(3, -1)).reshape(3, 1, *points.shape[1:])
        self._coil_along, self._coil_across, _ = (f[..., 0] for f in self._taken(own))
        self._modes(answer, places[pole], z, radius)

    def _circles(self, z: Array, radius: float) -> Array:
        """Places (3, heights, 5, nodes): on the axis and at four points of the circle round it."""
        x = self.grid.x
        dy = radius * np.array([0.0, 1.0, -1.0, 0.0, 0.0])[None, :, None]
        dz = radius * np.array([0.0, 0.0, 0.0, 1.0, -1.0])[None, :, None]
        along = z[:, None, None] + dz + self.shape.slope * x
        X, Y, Z = np.broadcast_arrays(x, self.shape.y + dy, along)
        return np.stack([X, Y, Z])

    def _taken(self, fields: Array) -> tuple[Array, Array, Array]:
        """Of (3, K, b, 5, n + 2): along (b, n, K), across (b, 2, n + 2, K) and upwards over the pole at rest (K,)."""
        slope = self.shape.slope
        cos, sin = 1 / np.hypot(1, slope), slope / np.hypot(1, slope)
        along = cos * fields[0] + sin * fields[2]
        normal = cos * fields[2] - sin * fields[0]
        surface = self.grid.averaged(along[:, :, 1:].mean(axis=2))[..., 1:-1]
        section = [(f[:, :, 0] + f[:, :, 1:].mean(axis=2)) / 2 for f in (fields[1], normal)]
        middle = int(np.argmin(np.abs(self.grid.x)))
        return (np.ascontiguousarray(np.moveaxis(surface, 0, -1)),
                np.ascontiguousarray(np.moveaxis(np.stack(section, axis=2), 0, -1)),
                np.ascontiguousarray(fields[2, :, 2, 0, middle]))

    def _modes(self, answer: StringAnswer, place: PlacedPole, z: Array, radius: float) -> None:
        g = self.grid

        def at(x: Array) -> tuple[Array, Array, Array]:
            X, Y, Z = np.broadcast_arrays(x, self.shape.y - place.y,
                                          z[:, None] - place.face + self.shape.slope * x)
            return X, Y, Z

        F = answer.factor(*at(g.middle), g.mirrored)
        self.A = F[:, 1:] - F[:, :-1]
        weight = g.weight / (2.0 if g.mirrored else 1.0)
        self.G = np.stack(answer.gradient(*at(g.x), g.mirrored), axis=1)  # (b, 2, n + 2, k)
        self._dipole_weight = weight
        ell = np.diff(g.x)
        self._h = (ell[:-1] + ell[1:]) / 2
        self._own = g.field_of(self_potential(g, radius))

    def solve(self, bias: Sequence[Array], signal: Sequence[Array], response: Array) -> Linkages:
        """Follow the static curve; ring charges (orders, K) by pole, and S (k, k)."""
        along0 = sum(_times(op, g) for op, g in zip(self._along, bias, strict=True))
        across0 = sum(_times(op, g) for op, g in zip(self._across, bias, strict=True))
        scale = MU0 * self.turns
        along_b = self._coil_along + scale * sum(_times(op, g) for op, g in zip(self._along, signal, strict=True))
        across_b = self._coil_across + scale * sum(_times(op, g) for op, g in zip(self._across, signal, strict=True))
        kernel = self._own - (self.A @ response @ np.swapaxes(self.A, 1, 2)) / self._h[:, None]
        across = np.asarray(across0)
        h: Array | None = None
        passes: list[_Pass] = []
        for _ in range(PASSES):
            before = h
            t = self._moment_across(across, before)
            d = np.einsum("bcnk,bcn->bk", self.G, t * self._dipole_weight)
            h0 = along0 - np.einsum("bnk,bk->bn", self.A @ response, d) / self._h
            state = solve_static(self.layers, kernel, np.asarray(h0), _modulus(across)[:, 1:-1], h)
            h = state.h
            T = np.tensordot([layer.area for layer in self.layers], state.m, 1)
            y = np.einsum("bnk,bn->bk", self.A, T) + d
            passes.append(_Pass(across=across, h=h, before=before, moment_across=t, moment=T, dipoles=d, modes=y))
            across = across0 - np.einsum("bcnk,bk->bcn", self.G, y @ response)
        t = self._moment_across(across, h)
        passes.append(_Pass(across=across, h=passes[-1].h, before=h, moment_across=t, moment=T, dipoles=d, modes=y))
        w = self.grid.weight
        linkage = np.einsum("n,bcn,bcn->b", w, t, across_b) + np.einsum("n,bn,bn->b", w[1:-1], T, along_b)
        b0 = MU0 * float(sum(op @ g.ravel() for op, g in zip(self._over, bias, strict=True)))
        return Linkages(linkage=linkage, bias=b0, passes=tuple(passes),
                        fields=(np.asarray(along0), np.asarray(across0), np.asarray(along_b), np.asarray(across_b)))

    def _moment_across(self, across: Array, h: Array | None) -> Array:
        full, modulus = self._full(h, across), _modulus(across)
        return np.asarray(sum(layer.area * across_slopes(layer.law, full, modulus)[0]
                              for layer in self.layers))[:, None] * across

    @staticmethod
    def _full(h: Array | None, across: Array) -> Array:
        full = np.zeros((across.shape[0], across.shape[2]))
        if h is not None:
            full[:, 1:-1] = h
        return full

    def back(self, found: Linkages, by_linkage: Array, by_bias: float, response: Array) -> StringWeights:
        """Weights from ∂J/∂λ (5,) and ∂J/∂B₀."""
        _, _, along_b, across_b = found.fields
        w = self.grid.weight
        last = found.passes[-1]
        seed = by_linkage[:, None]
        along_b_bar = seed * w[1:-1] * last.moment
        across_b_bar = seed[:, None] * w * last.moment_across
        T_bar = seed * w[1:-1] * along_b
        t_bar = seed[:, None] * w * across_b
        kernel = self._own - (self.A @ response @ np.swapaxes(self.A, 1, 2)) / self._h[:, None]
        S_bar = np.zeros_like(response)
        along0_bar = np.zeros_like(along_b)
        across0_bar = np.zeros_like(across_b)
        across_bar, h_bar = self._back_across(last, t_bar)
        for p in found.passes[-2::-1]:
            # across after the pass = across0 − G S y
            across0_bar += across_bar
            pulled = np.einsum("bcnk,bcn->bk", self.G, across_bar)
            y_bar = -pulled @ response
            S_bar -= np.einsum("bk,bl->kl", pulled, p.modes)
            T_bar = T_bar + np.einsum("bnk,bk->bn", self.A, y_bar)
            d_bar = y_bar.copy()
            # H = h0 + K T(H, |across|)
            modulus = _modulus(p.across)[:, 1:-1]
            by_h, by_across = self._axial_slopes(p.h, modulus)
            jacobian = -kernel * by_h[:, None, :]
            jacobian[:, np.arange(by_h.shape[1]), np.arange(by_h.shape[1])] += 1.0
            mu = np.linalg.solve(np.swapaxes(jacobian, 1, 2), (h_bar + by_h * T_bar)[..., None])[..., 0]
            T_all = T_bar + np.einsum("bij,bi->bj", kernel, mu)
            nu = np.einsum("bnk,bn->bk", self.A, mu / self._h)
            # the kernel and h0 both hold −(1/h) A S (…): together −ν yᵀ
            S_bar -= np.einsum("bk,bl->kl", nu, p.modes)
            along0_bar += mu
            d_bar -= nu @ response
            t_bar = np.einsum("bcnk,bk->bcn", self.G, d_bar) * self._dipole_weight
            across_bar, h_bar = self._back_across(p, t_bar)
            across_bar[:, :, 1:-1] += (by_across * T_all / modulus)[:, None] * p.across[:, :, 1:-1]
            T_bar = np.zeros_like(T_bar)
        across0_bar += across_bar
        scale = MU0 * self.turns
        bias = [_transposed(a, along0_bar) + _transposed(c, across0_bar) + MU0 * by_bias * o
                for a, c, o in zip(self._along, self._across, self._over, strict=True)]
        signal = [scale * (_transposed(a, along_b_bar) + _transposed(c, across_b_bar))
                  for a, c in zip(self._along, self._across, strict=True)]
        return StringWeights(bias=[b.reshape(ORDERS, -1) for b in bias], response=(S_bar + S_bar.T) / 2,
                             signal=[s.reshape(ORDERS, -1) for s in signal])

    def _back_across(self, p: _Pass, t_bar: Array) -> tuple[Array, Array]:
        """Through t = f(h, |across|) across: ∂J/∂across (b, 2, n + 2) and ∂J/∂h (b, n)."""
        modulus = _modulus(p.across)
        full = self._full(p.before, p.across)
        f, by_h, by_a = (np.asarray(sum(layer.area * s for layer, s in zip(self.layers, part, strict=True)))
                         for part in zip(*(across_slopes(layer.law, full, modulus) for layer in self.layers),
                                         strict=True))
        along = np.sum(t_bar * p.across, axis=1)
        return f[:, None] * t_bar + (by_a * along / modulus)[:, None] * p.across, (by_h * along)[:, 1:-1]

    def _axial_slopes(self, h: Array, modulus: Array) -> tuple[Array, Array]:
        """∂T/∂H and ∂T/∂|across| of all layers, the field inside following."""
        by_h, by_a = np.zeros_like(h), np.zeros_like(h)
        for layer in self.layers:
            one, two = axial_slopes(layer.law, h, modulus)
            by_h += layer.area * one
            by_a += layer.area * two
        return by_h, by_a


def _modulus(across: Array) -> Array:
    return np.maximum(np.hypot(across[:, 0], across[:, 1]), 1e-12)


def _times(operator: Array, charges: Array) -> Array:
    return np.asarray(operator @ charges.ravel())


def _transposed(operator: Array, bar: Array) -> Array:
    return np.asarray(bar.ravel() @ operator.reshape(bar.size, -1))
