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

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError

_TOLERANCE = 1e-7
_FULL_STEPS = 15  # what has not settled by then goes back and forth across a bend of the curve
_HALVINGS = 6
_MAX_STEPS = 60
_MOST_FIELD = 2.0  # of the field outside: what it demagnetises cannot make it larger in the steel


class StringLaw(Protocol):
    """A string steel's static curve and reversible slope."""

    def magnetisation(self, h: Array) -> tuple[Array, Array]: ...

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
                 start: Array | None = None) -> AxialState:
    """Follow the static curve.

    Parameters
    ----------
    kernel : array (b, n, n)
        Field at the nodes per moment A·M, 1/m².
    h0, across : arrays (b, n)
        Axial bias field and the modulus of the field across, A/m.
    start : array (b, n) or (n,), optional
        H to begin with.

    Raises
    ------
    SolveError
        When Newton's method does not settle.
    """
    h = np.zeros_like(h0) if start is None else np.array(np.broadcast_to(start, h0.shape))
    scale = np.max(np.abs(h0), axis=1, keepdims=True) + 1e-9
    inside = [np.zeros_like(h0) for _ in layers]
    diagonal = np.arange(h0.shape[1])
    for step in range(_MAX_STEPS):
        moment, stiffness = np.zeros_like(h), np.zeros_like(h)
        for i, layer in enumerate(layers):
            m, slope, inside[i] = axial_law(layer.law, h, across, inside[i])
            moment += layer.area * m
            stiffness += layer.area * slope
        residual = h - h0 - _times(kernel, moment)
        jacobian = -kernel * stiffness[:, None, :]
        jacobian[:, diagonal, diagonal] += 1.0
        delta: Array = np.linalg.solve(jacobian, residual[..., None])[..., 0].astype(float)
        if step >= _FULL_STEPS:
            h = h - _share(layers, kernel, h0, across, (h, inside), delta, residual) * delta
        else:
            h = h - delta
        if np.all(np.abs(delta) < _TOLERANCE * scale):
            if np.max(np.abs(h)) > _MOST_FIELD * np.max(np.hypot(h0, across)):
                break
            final = [axial_law(layer.law, h, across, inside[i])[0] for i, layer in enumerate(layers)]
            return AxialState(h=h, m=np.stack(final), steps=step + 1)
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
    inside = _inside(law, h, across, inside)
    modulus = np.sqrt(h * h + inside * inside) + 1e-6
    m, slope = law.magnetisation(modulus)
    chi = m / modulus
    return chi * h, chi + (slope - chi) * (h / modulus) ** 2, inside


def across_factor(law: StringLaw, h: Array, across: Array) -> Array:
    """M_t / H_t of a cylinder across the field, χ/(1 + χ/2), arrays like h (axial) and across (A/m)."""
    inside = _inside(law, h, across, np.zeros_like(h))
    modulus = np.sqrt(h * h + inside * inside) + 1e-6
    chi = law.magnetisation(modulus)[0] / modulus
    return np.asarray(chi / (1 + chi / 2))


def _inside(law: StringLaw, h: Array, across: Array, inside: Array) -> Array:
    """The field across inside the metal: two steps of a contraction; the outer Newton loop carries it on."""
    for _ in range(2):
        modulus = np.sqrt(h * h + inside * inside) + 1e-6
        chi = law.magnetisation(modulus)[0] / modulus
        inside = across / (1 + chi / 2)
    return inside
