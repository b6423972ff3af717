r"""How well the wrap of a wound string carries axial flux: one turn, solved by finite elements.

The wrap is a helix of round wire, its axial path broken at every turn. All fields depend on r and
ζ = z − cθ only, c = pitch/2π, and repeat with the pitch p. In an axial field H₀ far from magnetic ends,
H = H₀ e_z − ∇φ with φ odd about the middle of a turn and of a gap, so half a pitch is enough::

    ∫ μ [∂_r φ ∂_r w + (1 + c²/r²) ∂_ζ φ ∂_ζ w] r dr dζ = H₀ ∫ μ ∂_ζ w r dr dζ,   φ = 0 at ζ = 0, p/2, r = 0

c = 0 is a stack of rings; a helix adds about χ sin² of its slope, flux that follows the wire round. The
susceptibility per metal volume is the mean axial M of the wire over H₀. A core inside changes only that:
∫ ∂_ζ φ dζ = 0 at every r inside it, so its own moment stays χ_core H₀ A, and (core area · χ_core + metal
area · χ_wrap) H₀ is the whole axial moment per length.

Lengths are in wire radii, from the wire's centre. `gap` is the clear space between turns as a part of the
pitch. The wire's section along the axis, 1/cos of the slope as long as the wire is thick, is 1 − gap of the
pitch, so ζ is counted in units of 1/cos and the section is a circle again.

References
----------
Derived here.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
from skfem import Basis, BilinearForm, ElementQuad2, LinearForm, MeshQuad, MeshQuad2, condense

from stringflux.geometry.arrays import Array

from .factor import factor

Cells: TypeAlias = npt.NDArray[np.intp]

LEAST_GAP = 1e-3
"""Turns that touch are taken this far apart: plating and burrs keep round wires from closer contact."""
_CLEARANCE = 5e-3  # wire to core in wire radii; no flux crosses at the contact, where φ = 0 on both sides
_REACH = 1.6  # of a pitch, how far out of the wrap the cell goes; φ decays as exp(−2π r/p)


@BilinearForm
def _stiffness(u: Any, v: Any, w: Any) -> Any:
    return w["mu"] * w["r"] * (u.grad[1] * v.grad[1] + w["along"] * u.grad[0] * v.grad[0])


@LinearForm
def _load(v: Any, w: Any) -> Any:
    return w["mu"] * w["r"] * v.grad[0]


def wrap_susceptibility(mu_r: float, gap: float, curvature: float = 0.0, core_mu: float = 1.0,
                        helix: bool = True) -> float:
    """Axial susceptibility of a wrap per metal volume.

    Parameters
    ----------
    mu_r : float
        Relative permeability of the wire's metal.
    gap : float
        Clear space between turns as a part of the pitch, 0…0.5.
    curvature : float
        Wire radius over the mean radius of the turns, 0…1; 0 is a flat layer.
    core_mu : float
        Relative permeability of the core that the wrap lies on; 1 is none.
    helix : bool
        False closes every turn on itself: rings, without the path along the wire.

    Examples
    --------
    >>> 18 < wrap_susceptibility(100.0, 0.01) < 20
    True
    """
    if mu_r == 1.0:
        return 0.0
    return _solve(float(mu_r), max(float(gap), LEAST_GAP), float(curvature), float(core_mu), helix, 1)


@lru_cache(maxsize=256)
def _solve(mu_r: float, gap: float, curvature: float, core_mu: float, helix: bool, refine: int) -> float:
    half = 1 / (1 - gap)
    sin = half * curvature / np.pi if helix else 0.0  # of the turns' slope at their middle
    cos = np.sqrt(1 - sin**2)
    mesh, wire, core = _cell(half, curvature, refine)
    basis = Basis(mesh, ElementQuad2(), intorder=5)
    mu = np.ones(mesh.nelements)
    mu[wire], mu[core] = mu_r, core_mu
    rho = basis.global_coordinates()[1]
    r = 1 + curvature * rho  # over the mean radius
    fields = {"mu": np.broadcast_to(mu[:, None], r.shape), "r": r, "along": cos**2 + (sin / r) ** 2}
    K, f = _stiffness.assemble(basis, **fields), cos * _load.assemble(basis, **fields)
    x, y = basis.doflocs
    fixed = (x < 1e-9) | (x > half - 1e-9) | (1 + curvature * y < 1e-9)
    A, b, phi, free = condense(K, f, D=np.flatnonzero(fixed))
    phi[free] = factor(A).solve(b)
    weight = (basis.dx * r)[wire]
    field = 1 - cos * basis.interpolate(phi).grad[0][wire]
    return float((mu_r - 1) * np.sum(weight * field) / np.sum(weight))


def _cell(half: float, curvature: float, refine: int) -> tuple[MeshQuad2, Cells, Cells]:
    """Curved quadrilaterals of half a pitch: coordinates (ζ, ρ), and the wire's and the core's elements.

    Made in polar parameters (t, s): s = 0…1 the wire, 1…2 the ring of air to a box round it, 2…3 the
    columns over the box (air) and under it (core).
    """
    floor, top = -1 - _CLEARANCE, half
    low, high = np.arctan2(floor, half), np.arctan2(top, half)
    n = 6 * refine
    angles = np.concatenate([
        -np.pi / 2 + (low + np.pi / 2) * _graded(n, 0.12)[:-1],
        low * _graded(n, 0.08)[::-1][:-1],
        high * _graded(n, 0.08)[:-1],
        high + (np.pi / 2 - high) * np.linspace(0, 1, n // 2 + 1),
    ])
    shells = np.concatenate([
        1 - _graded(n, 0.15)[::-1][:-1],
        1 + np.linspace(0, 1, n // 2 + 1)[:-1],
        2 + _graded(n, 0.15),
    ])
    flat = MeshQuad.init_tensor(angles, shells)
    t, s = flat.p[:, flat.t].mean(axis=1)
    flat = flat.remove_elements(np.flatnonzero((s > 2) & (t > low) & (t < high)))
    t, s = flat.p[:, flat.t].mean(axis=1)
    curved = MeshQuad2.from_mesh(flat)
    depth = 2 * _REACH * half
    bottom = floor - depth if curvature * (depth - floor) < 1 else -1 / curvature
    places = _place(curved.doflocs[0], curved.doflocs[1], half, floor, top, bottom, top + depth)
    return MeshQuad2(places, curved.t), np.flatnonzero(s < 1), np.flatnonzero((s > 2) & (t < low))


def _place(t: Array, s: Array, half: float, floor: float, top: float, bottom: float, roof: float) -> Array:
    """(ζ, ρ) of the parameters (t, s)."""
    cos, sin = np.cos(t), np.sin(t)
    cos = np.where(np.abs(cos) < 1e-14, 0.0, cos)
    with np.errstate(divide="ignore"):
        reach = np.minimum(half / cos, np.where(sin > 0, top, -floor) / np.abs(sin))
    distance = np.minimum(s, 1) + np.clip(s - 1, 0, 1) * (reach - 1)
    column = np.clip(s - 2, 0, 1)
    x, y = distance * cos, distance * sin
    end = np.where(sin > 0, roof, bottom)
    return np.stack([x, y + column * (end - y)])


def _graded(n: int, first: float) -> Array:
    """0…1 in n steps that begin near first/n long."""
    u = np.linspace(0, 1, n + 1)
    return first * u + (1 - first) * u**2
