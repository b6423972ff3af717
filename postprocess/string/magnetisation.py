r"""Magnetisation of a string in the field of the row.

Axial, at the inner nodes of the grid, unknown H (A/m)::

    H = H₀ + K Σ_l A_l M_l(H)            K = field of the charges + the pole's answer, 1/m²

H₀ is the bias field averaged round the string's surface, l runs over core and wrap. Across, the string
is a cylinder in a uniform field, M_t = H_t χ/(1 + χ/2). The steel's curve is one of the modulus:
M = m(h) H/h with h² = H² + H_t,in², H_t,in = H_t/(1 + χ/2). Newton with the axial tangent; K is negative,
m saturates, so it converges from zero in about a dozen steps. Many string positions
are solved at once (leading axis b).

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError

TOLERANCE, ROUGH = 1e-7, 1e-4
"""How small the last step is, of the field outside: of a state, and of one that only leads to the next."""
_FULL_STEPS = 15  # what has not settled by then goes back and forth across a bend of the curve
_HALVINGS = 6
_MAX_STEPS = 60
_LEAST = 1e-12  # (A/m)²: what stands for no field where a field is divided by
_MOST_FIELD = 2.0  # of the field outside: what it demagnetises cannot make it larger in the steel


class StringLaw(Protocol):
    """A string steel's static curve and reversible slope."""

    def magnetisation(self, h: Array) -> tuple[Array, Array]: ...

    def by_modulus(self, h: Array) -> tuple[Array, Array]:
        """M/H and dM/dH at moduli H > 0."""

    def reversible(self, m: Array) -> Array: ...


@dataclass(frozen=True, kw_only=True, eq=False)
class Layer:
    """A coaxial part of the string that carries axial flux: its metal cross-section in m² and its steel."""

    area: float
    law: StringLaw


@dataclass(frozen=True, kw_only=True, eq=False)
class AxialState:
    """Solution at b positions, n inner nodes, by layer.

    Attributes
    ----------
    h : array (b, n)
        Axial field inside, A/m.
    m : array (layers, b, n)
        Axial magnetisation, A/m.
    steps : int
    """

    h: Array
    m: Array
    steps: int


def solve_static(layers: tuple[Layer, ...], kernel: Array, h0: Array, across: Array,
                 start: Array | None = None, tolerance: float = TOLERANCE, full: int = _FULL_STEPS) -> AxialState:
    """Follow the static curve. Positions that have settled are left as they are.

    Parameters
    ----------
    kernel : array (b, n, n)
        Field at the nodes per moment A·M, 1/m².
    h0, across : arrays (b, n)
        Axial bias field and the modulus of the field across, A/m.
    start : array (b, n) or (n,), optional
        H to begin with: a guess. Where not all settles from there, the search begins anew from no field.
    tolerance : float
        Of the largest field outside: a position has settled when its last step is smaller.
    full : int
        Newton steps that are taken whole. Where it does not settle so, none is: close over a strong pole whole steps
        can lead ever farther away.

    Raises
    ------
    SolveError
        When Newton's method does not settle.
    """
    asked = kernel, h0, across
    h = np.zeros_like(h0) if start is None else np.array(np.broadcast_to(start, h0.shape))
    scale = np.max(np.abs(h0), axis=1, keepdims=True) + 1e-9
    inside = [np.zeros_like(h0) for _ in layers]
    found, made = np.empty_like(h0), np.empty((len(layers), *h0.shape))
    left: npt.NDArray[np.intp] = np.arange(len(h0))  # the positions that have not settled
    diagonal = np.arange(h0.shape[1])
    for step in range(_MAX_STEPS):
        moment, stiffness, ms, slopes = np.zeros_like(h), np.zeros_like(h), [], []
        for i, layer in enumerate(layers):
            m, slope, inside[i] = axial_law(layer.law, h, across, inside[i])
            moment += layer.area * m
            stiffness += layer.area * slope
            ms.append(m)
            slopes.append(slope)
        residual = h - h0 - _times(kernel, moment)
        jacobian = kernel * -stiffness[:, None, :]
        jacobian[:, diagonal, diagonal] += 1.0
        delta: Array = np.linalg.solve(jacobian, residual[..., None])[..., 0].astype(float)
        if step >= full:
            delta *= _share(layers, kernel, h0, across, (h, inside), delta, residual)
        h = h - delta
        going = np.any(np.abs(delta) >= tolerance * scale, axis=1)
        if np.all(going):
            continue
        done = ~going
        if np.any(np.max(np.abs(h[done]), axis=1) > _MOST_FIELD * np.max(np.hypot(h0[done], across[done]), axis=1)):
            break
        found[left[done]] = h[done]
        for i, (m, slope) in enumerate(zip(ms, slopes, strict=True)):
            made[i, left[done]] = (m - slope * delta)[done]
        if not np.any(going):
            return AxialState(h=found, m=made, steps=step + 1)
        left = left[going]
        h, h0, across, scale, kernel = h[going], h0[going], across[going], scale[going], kernel[going]
        inside = [within[going] for within in inside]
    if start is not None:
        return solve_static(layers, *asked, tolerance=tolerance)
    if full:
        return solve_static(layers, *asked, tolerance=tolerance, full=0)
    raise SolveError(
        f"the magnetisation of a string did not settle within {_MAX_STEPS} Newton steps on a state that its field "
        "can make; check the string steel's "
        "curve and that the gap is not too small"
    )


def _share(layers: tuple[Layer, ...], kernel: Array, h0: Array, across: Array, at: tuple[Array, list[Array]],
           delta: Array, residual: Array) -> Array:
    """How much of each position's Newton step, 1, 1/2, …, makes its residual smaller, (b, 1)."""
    h, inside = at
    share = np.ones((h.shape[0], 1))
    before = np.linalg.norm(residual, axis=1, keepdims=True)
    for _ in range(_HALVINGS):
        there = h - share * delta
        moment = np.zeros_like(h)
        for layer, within in zip(layers, inside, strict=True):
            moment += layer.area * axial_law(layer.law, there, across, within)[0]
        after = np.linalg.norm(there - h0 - _times(kernel, moment), axis=1, keepdims=True)
        worse = after > (1 - share / 5) * before
        if not np.any(worse):
            break
        share = np.where(worse, share / 2, share)
    return share


def solve_reversible(layers: tuple[Layer, ...], kernel: Array, h0: Array, rest: AxialState) -> AxialState:
    """Small movements about a rest state (b = 1): M = M_rest + χ_rev (H − H_rest); one linear solve."""
    slopes = np.stack([layer.law.reversible(np.abs(rest.m[i, 0])) for i, layer in enumerate(layers)])
    constants = rest.m[:, 0] - slopes * rest.h[0]
    areas = np.array([layer.area for layer in layers])
    jacobian = np.eye(h0.shape[1]) - kernel * (areas @ slopes)[None, None, :]
    right = h0 + kernel @ (areas @ constants)
    h = np.asarray(np.linalg.solve(jacobian, right[..., None])[..., 0], dtype=float)
    return AxialState(h=h, m=constants[:, None] + slopes[:, None] * h, steps=1)


def _times(kernel: Array, moment: Array) -> Array:
    return np.asarray((kernel @ moment[..., None])[..., 0])


def axial_law(law: StringLaw, h: Array, across: Array, inside: Array) -> tuple[Array, Array, Array]:
    """Axial M, its slope with H, and the field across inside the metal (arrays like h)."""
    square = h * h
    inside = _inside(law, square, across, inside)
    whole = square + inside * inside + _LEAST
    chi, slope = law.by_modulus(np.sqrt(whole))
    return chi * h, chi + (slope - chi) * (square / whole), inside


def across_factor(law: StringLaw, h: Array, across: Array) -> Array:
    """M_t / H_t of a cylinder across the field, χ/(1 + χ/2), arrays like h (axial) and across (A/m)."""
    square = h * h
    inside = _inside(law, square, across, np.zeros_like(h))
    chi = law.by_modulus(np.sqrt(square + inside * inside + _LEAST))[0]
    return np.asarray(chi / (1 + chi / 2))


def _inside(law: StringLaw, square: Array, across: Array, inside: Array) -> Array:
    """The field across inside the metal, the square of that along it given: two steps of a contraction; the outer
    Newton loop carries it on."""
    square = square + _LEAST
    for _ in range(2):
        chi = law.by_modulus(np.sqrt(square + inside * inside))[0]
        inside = across / (1 + chi / 2)
    return inside
