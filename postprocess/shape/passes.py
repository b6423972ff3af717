r"""The passes between a string's magnetisation along and across, forwards and backwards.

With T the axial moment, t the moment across, S the answer of what lies below, A and G its modes at the string's
charges and dipoles ::

    H = H₀ + K T − (1/h) A S (Aᵀ T + d)      d = Gᵀ w t      H_across = H₀,across − G S (Aᵀ T + d)
    λ = Σ w t·b_across + Σ w T b_along

solved as in :mod:`.string.model`, in two passes between along and across; backwards the same passes are gone through
from the end, with one linear solve in each (the transposed Jacobian of the axial equation).

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

from ..string.grid import StringGrid, self_potential
from ..string.magnetisation import Layer, solve_static
from .slopes import across_slopes, axial_slopes

PASSES = 2


@dataclass(frozen=True, kw_only=True, eq=False)
class AlongString:
    """Numbers along a string at b heights: fields on it, or ∂J/∂ of them.

    Attributes
    ----------
    along : array (b, n)
        At the inner nodes, averaged round the surface.
    across : array (b, 2, n + 2)
        y and normal, averaged over the section.
    """

    along: Array
    across: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class PassesFound:
    """λ (b,) in Wb, the fields it came from (H₀ in A/m, b in T/A), and what :meth:`StringPasses.back` needs."""

    linkage: Array
    bias: AlongString
    signal: AlongString
    passes: tuple[_Pass, ...]


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


class StringPasses:
    """A string whose places do not change.

    Parameters
    ----------
    layers : tuple of Layer
    grid : StringGrid
    radius : float
        Where its charges sit, m.
    A : array (b, n, k)
        Of the answer's modes, the next segment's less the last's at each inner node.
    G : array (b, 2, n + 2, k)
        Their slopes across and up at the nodes.
    """

    def __init__(self, layers: tuple[Layer, ...], grid: StringGrid, radius: float, A: Array, G: Array) -> None:
        self.layers, self.grid, self.A, self.G = layers, grid, A, G
        self._dipole_weight = grid.weight / (2.0 if grid.mirrored else 1.0)
        ell = np.diff(grid.x)
        self._h = (ell[:-1] + ell[1:]) / 2
        self._own = grid.field_of(self_potential(grid, radius))

    def solve(self, bias: AlongString, signal: AlongString, response: Array) -> PassesFound:
        """Follow the static curve in the fields H₀ and b, with S (k, k)."""
        along0, across0 = bias.along, bias.across
        kernel = self._own - (self.A @ response @ np.swapaxes(self.A, 1, 2)) / self._h[:, None]
        across = across0
        h: Array | None = None
        passes: list[_Pass] = []
        for _ in range(PASSES):
            before = h
            t = self._moment_across(across, before)
            d = np.einsum("bcnk,bcn->bk", self.G, t * self._dipole_weight)
            h0 = along0 - np.einsum("bnk,bk->bn", self.A @ response, d) / self._h
            state = solve_static(self.layers, kernel, h0, _modulus(across)[:, 1:-1], h)
            h = state.h
            T = np.tensordot([layer.area for layer in self.layers], state.m, 1)
            y = np.einsum("bnk,bn->bk", self.A, T) + d
            passes.append(_Pass(across=across, h=h, before=before, moment_across=t, moment=T, dipoles=d, modes=y))
            across = across0 - np.einsum("bcnk,bk->bcn", self.G, y @ response)
        t = self._moment_across(across, h)
        passes.append(_Pass(across=across, h=passes[-1].h, before=h, moment_across=t, moment=T, dipoles=d, modes=y))
        w = self.grid.weight
        linkage = (np.einsum("n,bcn,bcn->b", w, t, signal.across)
                   + np.einsum("n,bn,bn->b", w[1:-1], T, signal.along))
        return PassesFound(linkage=linkage, bias=bias, signal=signal, passes=tuple(passes))

    def back(self, found: PassesFound, by_linkage: Array, response: Array) -> tuple[AlongString, AlongString, Array]:
        """∂J/∂ of H₀, of b and of S (symmetric) from ∂J/∂λ (b,)."""
        along_b, across_b = found.signal.along, found.signal.across
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
        return (AlongString(along=along0_bar, across=across0_bar),
                AlongString(along=along_b_bar, across=across_b_bar), (S_bar + S_bar.T) / 2)

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
