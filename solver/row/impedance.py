r"""Impedance of the coil with its row of conducting poles, and how b at the strings falls with frequency.

Order 0 of every pole answers with eddy currents (:mod:`.eddy_cell`), the poles coupled as in the static row,
ring currents in place of ring charges::

    L_c(f) = L − j R_e/ω = L_static + [2π Σ g(f)·u_coil − the same at 0 Hz]

What the static row has beyond order 0 (the poles magnetised across) stays at its static value: at the poles'
radius its eddies come an octave or two later and it is a few per cent of L. Frequencies between the computed
ones come from a rational fit (AAA) in jω.

References
----------
Rational fit: Y. Nakatsukasa, O. Sète, L. N. Trefethen, "The AAA algorithm for rational approximation", *SIAM J. Sci.
Comput.* 40 (2018) A1494 (memory). The rest: derived here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.interpolate import AAA

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.errors import SolveError
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.shapes.row import PlacedPole, PoleShape, Racetrack

from ..coil import air as coil_air
from ..constants import MU0
from ..interpolation import chebyshev, lagrange
from ..materials.kinds import Materials
from ..section.space import Section, section
from .coil_on_pole import part_panels
from .coupling import MAX_ROUNDS, mirror_images
from .eddy_cell import EddyAnswer, EddyCell, skin_depth, skin_quality
from .numerics import BAND
from .rings import Rings, far_rings, near_rings
from .solve import SolvedRow

_MESH = Quality(divisions=9.0, growth=0.15, far=6.0)  # draft's 0.3 leaves 1 % of L0 − L in the air beside the pole
_FAR_HEIGHTS = 20  # 14 leave 0.3 % of it at 1.46 diameters from pole to pole
_DIGITS = 15.0  # of e, 0.005 % of it; 8 points leave 0.5 % at 1.7 diameters, 5 % at 1.46
_CLOSEST = 0.96  # radii over distance; nearer ones get the points of this
_RADII, _HEIGHTS = 4, 9


@dataclass(frozen=True, kw_only=True, eq=False)
class RowImpedance:
    """The coil's inductance and b at the strings against frequency.

    Attributes
    ----------
    frequency : array (n,)
        Hz.
    inductance : complex array (n,)
        L_c = L − j R_e/ω in H, all turns; the coil's impedance is R_dc + jω L_c.
    attenuation : complex array (strings, n)
        b_z(f)/b_z(0) at each point asked for.
    static : float
        L at 0 Hz, H.
    """

    frequency: Array
    inductance: ComplexArray
    attenuation: ComplexArray
    static: float

    def at(self, frequency: Array) -> RowImpedance:
        """The same at other frequencies inside the computed ones, by the rational fit."""
        f = np.asarray(frequency, float)
        fit = [_rational(self.frequency, y)(f) for y in (self.inductance, *self.attenuation)]
        return RowImpedance(frequency=f, inductance=fit[0], attenuation=np.array(fit[1:]).reshape(-1, f.size),
                            static=self.static)


def row_impedance(row: SolvedRow, materials: Materials, frequencies: Sequence[float] | Array,
                  points: Array | None = None) -> RowImpedance:
    """Compute at given frequencies.

    Parameters
    ----------
    row : SolvedRow
    materials : mapping
        Materials by name, with `resistivity` in Ω·m.
    frequencies : array (n,)
        Hz, above 0 and up to 20 kHz.
    points : array (3, k), optional
        Where b is wanted: the strings over the row, m.
    """
    f = np.asarray(frequencies, float)
    p = np.zeros((3, 0)) if points is None else points
    # a pole and one magnetised the other way answer a small signal alike
    places = [replace(q, shape=_unsigned(q.shape)) for q in row.places]
    cells: dict[PoleShape, _Cell] = {}
    for q in row.places:
        if _unsigned(q.shape) not in cells:
            cells[_unsigned(q.shape)] = _eddy_cell(q.shape, row, materials)
    system = _EddyRow(places, row.field.coil, cells, p, row.numerics.tolerance)
    gain0, b0 = system.solve(0.0)
    static_b = row.field.reciprocal(p)[2] if p.shape[1] else np.zeros(0)
    turns = row.field.turns
    L, ratio = np.empty(f.size, complex), np.empty((p.shape[1], f.size), complex)
    for i, fi in enumerate(f):
        gain, b = system.solve(fi)
        L[i] = row.inductance + turns**2 * (gain - gain0)
        ratio[:, i] = 1 + turns * (b - b0) / static_b
    return RowImpedance(frequency=f, inductance=L, attenuation=ratio, static=row.inductance)


def _rational(f: Array, y: ComplexArray) -> Callable[[Array], ComplexArray]:
    """A rational function in √(jω) through the samples: diffusion goes with the root of the frequency."""
    fit = AAA(np.sqrt(1j * f / f[-1]), y, rtol=1e-9, clean_up=False)
    return lambda at: np.asarray(fit(np.sqrt(1j * at / f[-1])))


def _unsigned(shape: PoleShape) -> PoleShape:
    return PoleShape(parts=tuple(replace(part, polarity=abs(part.polarity)) for part in shape.parts))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Cell:
    """The spreads as complex arrays: numpy would convert them in every product."""

    cell: EddyCell
    far: Rings
    near: Rings
    far_spread: ComplexArray
    near_spread: ComplexArray

    @property
    def section(self) -> Section:
        return self.cell.section


def _eddy_cell(shape: PoleShape, row: SolvedRow, materials: Materials) -> _Cell:
    """The pole on a mesh for its skin; reversible permeabilities as the mean over each part at its bias."""
    signal = row.cells[shape].signal
    means = tuple(mu.mean() for mu in signal.mu)
    rho = [materials[p.material].resistivity for p in shape.parts]
    depths = [skin_depth(BAND[1], float(mu.along), r) for mu, r in zip(means, rho, strict=True)]
    s = section(shape, skin_quality(_MESH, depths))
    sigma = tuple(0.0 if not np.isfinite(r) else 1.0 / r for r in rho)
    cell = EddyCell(section=s, mu=means, conductivity=sigma)
    far, near = far_rings(s, 1, replace(row.numerics, far_heights=_FAR_HEIGHTS)), near_rings(s, 1, row.numerics)
    return _Cell(cell=cell, far=far, near=near, far_spread=far.spread[0].astype(complex),
                 near_spread=near.spread[0].astype(complex))


class _EddyRow:
    """Order 0 of the row at any frequency, for one turn."""

    def __init__(self, places: Sequence[PlacedPole], coil: Racetrack, cells: dict[PoleShape, _Cell],
                 points: Array, tolerance: float) -> None:
        self.tolerance = tolerance
        self.places, self.cells, self.coil = places, cells, coil
        self.drive = [_coil_u(self.coil, p, cells[p.shape].section) for p in self.places]
        self.twins = mirror_images(self.places, self.coil.y_centre) or list(range(len(self.places)))
        self.links = {(i, j): _current_link(self.places[i], cells[self.places[i].shape].far, self.places[j],
                                            cells[self.places[j].shape].far)
                      for i in range(len(self.places)) if self.twins[i] == i
                      for j in range(len(self.places)) if i != j}
        self.to_points = [_current_b_z(points, p, cells[p.shape].near) for p in self.places]

    def solve(self, frequency: float) -> tuple[complex, ComplexArray]:
        """What the poles add to L (H per turn²) and to b_z at the points (T/A per turn)."""
        answers = {shape: c.cell.at(frequency) for shape, c in self.cells.items()}
        n = len(self.places)
        g = [self._answer(answers, i, self.drive[i]) for i in range(n)]
        for _ in range(MAX_ROUNDS if n > 1 else 0):
            change = 0.0
            for i in range(n):
                if self.twins[i] != i:
                    g[i] = g[self.twins[i]]
                    continue
                c = self.cells[self.places[i].shape]
                others = sum(self.links[i, j] @ self._far(j, g[j]) for j in range(n) if j != i)
                new = self._answer(answers, i, self.drive[i] + c.far_spread @ others)
                change = max(change, float(np.linalg.norm(new - g[i]) / np.linalg.norm(new)))
                g[i] = new
            if change < self.tolerance:
                break
        else:
            if n > 1:
                raise SolveError(f"the poles did not settle against each other at {frequency:.0f} Hz")
        gain = complex(sum(2 * np.pi * gi @ u for gi, u in zip(g, self.drive, strict=True)))
        b = np.asarray(sum(t @ (self.cells[p.shape].near_spread.T @ gi)
                           for t, p, gi in zip(self.to_points, self.places, g, strict=True)))
        return gain, b

    def _answer(self, answers: Mapping[PoleShape, EddyAnswer], i: int, u: Array | ComplexArray) -> ComplexArray:
        return answers[self.places[i].shape].currents(u)

    def _far(self, j: int, g: ComplexArray) -> ComplexArray:
        return np.asarray(self.cells[self.places[j].shape].far_spread.T @ g)


def _coil_u(coil: Racetrack, pole: PlacedPole, s: Section) -> Array:
    """u = A_φ/r of the coil in air at the pole's unknowns (order 0), T per ampere.

    From the mean B_z round the axis, Σ c_k r^{2k}: A_φ/r = Σ c_k r^{2k}/(2k + 2).
    """
    r, z = s.nodes[:, s.pole]
    out = np.zeros(r.size)
    done = np.zeros(r.size, bool)
    for part, basis in zip(pole.shape.parts, s.parts, strict=True):
        mine = np.zeros(s.unknowns, bool)
        mine[basis.element_dofs.ravel()] = True
        todo = mine[s.pole] & ~done
        radii = part.radius * np.cos((2 * np.arange(_RADII) + 1) * np.pi / (4 * _RADII))
        for low, high in pairwise(part_panels(coil, pole.face, part)):
            rows = np.flatnonzero(todo & (z >= low - 1e-12) & (z <= high + 1e-12))
            todo[rows] = False
            heights = chebyshev(low, high, _HEIGHTS)
            alpha = (np.arange(7) + 0.5) * np.pi / 7
            R, A, Z = np.meshgrid(radii, alpha, heights, indexing="ij")
            bz = coil_air.field(coil, np.stack([R * np.sin(A), pole.y + R * np.cos(A), Z + pole.face]))[2].mean(1)
            k = np.arange(_RADII)
            c = np.linalg.solve(radii[:, None] ** (2 * k), bz)  # (k, heights)
            out[rows] = np.einsum("nk,kl,nl->n", r[rows, None] ** (2 * k) / (2 * k + 2), c,
                                  lagrange(heights, z[rows]))
        done |= mine[s.pole]
    return out


def _current_link(target: PlacedPole, rings: Rings, source: PlacedPole, sources: Rings) -> Array:
    """u = A_φ/r (order 0) at the target's rings per ring g of the source, (k, l).

    A ring current I has g = r² I; the mean A_φ round a ring is (μ0 I/4π) (1/2π) ∮∮ r' cos(α − β)/R dα dβ.
    """
    n = _angles((target.shape.radius + source.shape.radius) / abs(target.y - source.y))
    a = np.arange(n) * 2 * np.pi / n
    sy, sx = sources.r[:, None] * np.cos(a), sources.r[:, None] * np.sin(a)
    dz = (rings.z + target.face)[:, None, None] - (sources.z + source.face)[:, None]
    total = np.zeros((rings.r.size, sources.r.size))
    for half in a[: n // 2] + np.pi / n:
        ty = rings.r * np.cos(half) + target.y - source.y
        tx = rings.r * np.sin(half)
        squares = (tx[:, None, None] - sx) ** 2 + (ty[:, None, None] - sy) ** 2 + dz**2
        total += (1 / np.sqrt(squares)) @ np.cos(half - a)
    mean = total * (2 * np.pi / n) / (n / 2)
    return np.asarray(MU0 / (4 * np.pi) * mean / rings.r[:, None] / sources.r[None, :])


def _angles(closeness: float) -> int:
    """Points round each of two poles by the sum of radii over their distance: the error goes as e^(−n acosh)."""
    return 2 * int(np.ceil(_DIGITS / 2 / np.arccosh(1 / min(closeness, _CLOSEST))))


def _current_b_z(points: Array, pole: PlacedPole, rings: Rings) -> Array:
    """B_z at points (3, n) per ring g of a pole, (n, k): Biot–Savart over 24 pieces of each ring."""
    a = (np.arange(24) + 0.5) * 2 * np.pi / 24
    x, y, z = points[0], points[1] - pole.y, points[2] - pole.face
    dx = x[:, None, None] - rings.r[:, None] * np.cos(a)
    dy = y[:, None, None] - rings.r[:, None] * np.sin(a)
    dz = z[:, None, None] - rings.z[:, None]
    # dl = r (−sin a, cos a) da; (dl × R)_z = dl_x R_y − dl_y R_x
    cross = -rings.r[:, None] * (np.sin(a) * dy + np.cos(a) * dx)
    total = np.sum(cross / (dx**2 + dy**2 + dz**2) ** 1.5, axis=-1) * (2 * np.pi / 24)
    return np.asarray(MU0 / (4 * np.pi) * total / rings.r**2)
