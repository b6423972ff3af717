"""The electric field round a winding, in its section.

    ∇·(ε ℓ(u) ∇V) = 0,   ℓ(u) = 2 s + 2 π u,   ½ (V_in, V_out) K (V_in, V_out)ᵀ = ½ ε₀ ∫ ε |∇V|² ℓ du dz

u counts outwards from the line that the race-track is wound about, z upwards; ℓ is the length of the curve at u, s
the straight side. A round coil has s = 0 and u is its radius; of a long one the same form is the plane section. The
faces of the winding have V_in and V_out; on its ends V goes with the turns, and so with u. Metal is boxes in the
section, earthed (V = 0) or floating (one V each, no charge). What is far is earthed.

The grid is of rectangles along all edges, closer at them. A winding whose thickness changes along its height is a
stair of rectangles there, V on them as in it.

References
----------
Derived here. Held to coaxial cylinders and to parallel plates in tests/solver/capacitance/test_outside.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
from skfem import Basis, BilinearForm, ElementQuad1, MeshQuad
from skfem.helpers import dot, grad

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import Racetrack

from ..factor import factor
from .cell import EPSILON_0

Rectangle = tuple[float, float, float, float]
"""u from, u to, z from, z to, m."""


@dataclass(frozen=True, kw_only=True)
class Metal:
    """A conductor in the section: rectangles that hang together, earthed or floating."""

    boxes: tuple[Rectangle, ...]
    earthed: bool


@dataclass(frozen=True, kw_only=True)
class OutsideGrid:
    """How fine, and how far.

    Attributes
    ----------
    across : int
        Elements across the narrowest space between two edges.
    growth : float
        From element to element.
    steps : int
        In which the outer face of a winding goes from its least to its greatest thickness.
    far : float
        How far what is far is from the winding and all metal, in heights and thicknesses of the winding.
    """

    across: int = 4
    growth: float = 1.5
    steps: int = 8
    far: float = 6.0


GRID = OutsideGrid()


@BilinearForm
def _energy(u: Any, v: Any, w: Any) -> Any:
    return (w["straight"] + 2 * np.pi * w.x[0]) * dot(grad(u), grad(v))


def outside(coil: Racetrack, metals: Sequence[Metal] = (), *, permittivity: float = 1.0,
            grid: OutsideGrid = GRID) -> Array:
    """K (2, 2), F: what the field outside the winding adds for voltages of its inner and its outer face.

    Parameters
    ----------
    coil : Racetrack
        The winding; heights are those of the metal's z.
    metals : sequence of Metal
        None of them may share room with the winding.
    permittivity : float
        Relative, of everything round the winding.

    Raises
    ------
    ValueError
        If metal reaches into the winding.

    Examples
    --------
    A winding whose outer face is live has more capacitance in an earthed can than by itself.

    >>> coil = Racetrack(inner_radius=2.5e-3, straight=52.2e-3, build=4.2e-3, bottom=-12e-3, top=-1e-3, turns=7000)
    >>> can = Metal(boxes=((7.7e-3, 8.2e-3, -15e-3, 2e-3),), earthed=True)
    >>> bool(outside(coil, [can])[1, 1] > 1.5 * outside(coil)[1, 1])
    True
    """
    a, b = coil.inner_radius, coil.inner_radius + coil.build
    window = winding_boxes(coil, grid.steps)
    for metal in metals:
        for box in metal.boxes:
            if any(_share(box, piece) for piece in window):
                raise ValueError(f"metal at u {box[:2]}, z {box[2:]} reaches into the winding at "
                                 f"{(a, b, coil.bottom, coil.top)}")
    reach = grid.far * max(coil.top - coil.bottom, coil.build)
    boxes = [*window, *(box for metal in metals for box in metal.boxes)]
    u = _lines(0.0, max(x[1] for x in boxes) + reach, [x for box in boxes for x in box[:2]], grid)
    z = _lines(min(x[2] for x in boxes) - reach, max(x[3] for x in boxes) + reach,
               [x for box in boxes for x in box[2:]], grid)
    mesh = MeshQuad.init_tensor(u, z)
    middle = mesh.p[:, mesh.t].mean(axis=1)
    solid = np.any([_in(middle, box) for box in boxes], axis=0)
    basis = Basis(mesh, ElementQuad1(), intorder=3, elements=np.flatnonzero(~solid))
    matrix = (_energy.assemble(basis, straight=2 * coil.straight) * EPSILON_0 * permittivity).tocsr()
    at = basis.doflocs

    def thick(z: Array) -> Array:
        ends = np.array(coil.builds or ((coil.bottom, b - a), (coil.top, b - a)))
        return np.asarray(np.interp(z, *ends.T))

    # One column a voltage that is given or floats: inner face, outer face, then what floats
    floating = [metal for metal in metals if not metal.earthed]
    modes = np.zeros((at.shape[1], 2 + len(floating)))
    wound = np.any([_in(at, piece, edge=True) for piece in window], axis=0)
    modes[wound, 1] = np.minimum((at[0, wound] - a) / thick(at[1, wound]), 1.0)
    modes[wound, 0] = 1 - modes[wound, 1]
    fixed = wound | (at[0] > u[-1] - 1e-12) | (at[1] < z[0] + 1e-12) | (at[1] > z[-1] - 1e-12)
    taken = wound
    for metal in metals:
        inside = np.any([_in(at, box, edge=True) for box in metal.boxes], axis=0) & ~taken
        taken = taken | inside
        fixed = fixed | inside
        if not metal.earthed:
            modes[inside, 2 + floating.index(metal)] = 1.0
    free = np.setdiff1d(np.flatnonzero(~fixed), np.flatnonzero(np.diff(matrix.indptr) == 0))
    modes[free] = factor(matrix[free][:, free]).solve(-(matrix @ modes)[free])
    k = np.asarray(modes.T @ (matrix @ modes))
    own, between = k[2:, 2:], k[2:, :2]
    return np.asarray(k[:2, :2] - between.T @ np.linalg.solve(own, between)) if floating else k[:2, :2]


def winding_boxes(coil: Racetrack, steps: int = GRID.steps) -> list[Rectangle]:
    """The winding as rectangles; a thickness that changes goes from its least to its greatest in so many steps."""
    a = coil.inner_radius
    if not coil.builds:
        return [(a, a + coil.build, coil.bottom, coil.top)]
    step = (coil.build - min(w for _, w in coil.builds)) / steps or coil.build
    out = []
    for z0, z1, w0, w1 in coil.slices:
        n = max(round(abs(w1 - w0) / step), 1)
        z, w = np.linspace(z0, z1, n + 1), w0 + (w1 - w0) * (np.arange(n) + 0.5) / n
        out += [(a, a + float(w[i]), float(z[i]), float(z[i + 1])) for i in range(n)]
    return out


def _in(p: Array, box: Rectangle, *, edge: bool = False) -> npt.NDArray[np.bool_]:
    e = 1e-10 if edge else -1e-10
    return np.asarray((p[0] > box[0] - e) & (p[0] < box[1] + e) & (p[1] > box[2] - e) & (p[1] < box[3] + e))


def _share(one: Rectangle, other: Rectangle) -> bool:
    e = 1e-10
    return (min(one[1], other[1]) - max(one[0], other[0]) > e) and (min(one[3], other[3]) - max(one[2], other[2]) > e)


def _lines(low: float, high: float, edges: Sequence[float], grid: OutsideGrid) -> Array:
    """Grid lines from low to high through all edges, closest at these."""
    knots = np.unique(np.round([low, *[e for e in edges if low < e < high], high], 10))
    inner = {round(float(e), 10) for e in edges}
    gaps = np.diff(knots)
    size = {float(k): float(min(gaps[max(i - 1, 0)], gaps[min(i, gaps.size - 1)])) / grid.across
            for i, k in enumerate(knots)}
    lines = [float(knots[0])]
    for p, q in pairwise(knots):
        left = size[float(p)] if float(p) in inner else np.inf
        right = size[float(q)] if float(q) in inner else np.inf
        lines += list(_graded(float(p), float(q), left, right, grid.growth))
    return np.array(lines)


def _graded(low: float, high: float, left: float, right: float, growth: float) -> Array:
    """Steps from low (left out) to high that begin at `left`, end at `right` and grow by at most so much between."""
    length = high - low
    steps_left, steps_right, done = [], [], 0.0
    while True:
        step = min(left, right, length - done)
        if length - done - step < 0.5 * step:
            break
        if left <= right:
            steps_left.append(step)
            left *= growth
        else:
            steps_right.append(step)
            right *= growth
        done += step
    steps = np.array([*steps_left, length - done, *steps_right[::-1]])
    ends = low + np.cumsum(steps)
    ends[-1] = high
    return np.asarray(ends)
