r"""Flux through a piece of a plane from the vector potential round its rim, and flux within the section of a body.

    Φ = ∮ A·dl,     A(r) = μ0/4π Σ_i w_i M_i × (r − r_i)/|r − r_i|³

over the points i of the bodies' elements, w_i their volumes; direct currents in coils add their own A. The rim alone
has to lie in air: what it goes round, a pole say, may reach through the plane. The rim has to keep off the bodies as
far as the sum of points is smooth: about the size of an element. A winding is no hindrance.

Within bodies alone, as a search coil wound close round them has it,

    Φ = ∫ B·∇χ dV over the bodies,     S = ∫ n·∇χ dV

χ rising from 0 to 1 across the section, within about one element, evenly about it. It is the mean over all
sections there, and the discrete field conserves it, which it does not do with B at points.

References
----------
A of a magnetised body: J. D. Jackson, *Classical Electrodynamics*, 3rd ed., Wiley 1999, chapter 5 (memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from stringflux.geometry.arrays import Array

from ..coil.direct import DirectCurrents
from ..constants import MU0
from .force import mirrored_pieces, pieces_of
from .solve import SolvedMagnets, SolvedSolid

_AT_ONCE = 4_000_000  # pairs of a point and a moment
_OFF = 1.3  # radii of an element from its middle: so far off every one the rim stays
_FLAT = 1e-9  # m
_BESIDE = 50e-6  # m: 0 to 20 µm was found
_NEAREST = 60  # elements to a point of the rim that are looked at


@dataclass(frozen=True, kw_only=True, eq=False)
class Rim:
    """A closed way: its points (3, n), m, and the steps dl (3, n) that its integrals weigh them with, m."""

    points: Array
    steps: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class FluxFound:
    """Wb through a rim, counted along the normal that it goes round to the right.

    Attributes
    ----------
    flux : float
        Wb.
    keeps_off : bool
        Whether the rim stays in air and far enough off every body for that.
    weights : sequence of arrays (3, e, q)
        What B − μ0 H counts for in it at the points of every body, 1/m.
    """

    flux: float
    keeps_off: bool
    weights: Sequence[Array]


def round_rim(centre: Array, normal: Array, radius: float, count: int = 180) -> Rim:
    """A circle about `centre`, m, in the plane with this normal."""
    n = normal / np.linalg.norm(normal)
    first = np.cross(n, np.eye(3)[int(np.argmin(np.abs(n)))])
    first = first / np.linalg.norm(first)
    second = np.cross(n, first)
    angle = 2 * np.pi * np.arange(count) / count
    c, s = np.cos(angle), np.sin(angle)
    points = centre[:, None] + radius * (np.outer(first, c) + np.outer(second, s))
    return Rim(points=points, steps=2 * np.pi * radius / count * (np.outer(second, c) - np.outer(first, s)))


def square_rim(centre: Array, axis: int, size: tuple[float, float], panels: int = 20) -> Rim:
    """A rectangle about `centre`, m, across an axis; `size` along the two others in the order x, y, z."""
    one, other = (k for k in range(3) if k != axis)
    turn = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) / 2
    corners = np.repeat(centre[:, None], 4, axis=1)
    corners[[one, other]] += (turn * size).T
    if axis == 1:  # z to x, not x to z, goes round y to the right
        corners = corners[:, ::-1]
    x, w = np.polynomial.legendre.leggauss(6)
    at = ((np.arange(panels)[:, None] + (1 + x) / 2) / panels).ravel()
    weight = np.tile(w / 2 / panels, panels)
    sides = np.roll(corners, -1, axis=1) - corners
    points = [corners[:, k, None] + sides[:, k, None] * at for k in range(4)]
    return Rim(points=np.concatenate(points, axis=1),
               steps=np.concatenate([sides[:, k, None] * weight for k in range(4)], axis=1))


def flux_through(solved: SolvedMagnets, rim: Rim) -> FluxFound:
    """The flux of a static field through a rim."""
    middles, radius = _elements(solved)
    keeps_off = all(bool(np.all(_off(middles * mirror[:, None], radius, rim.points)))
                    for mirror, _ in mirrored_pieces(solved))
    weights = _of_rim(solved, rim)
    flux = sum(float(np.sum((b - MU0 * h) * g * e.weight))
               for e, b, h, g in zip(solved.space.bodies, solved.bias.b, solved.bias.h, weights, strict=True))
    if solved.direct:
        flux += flux_of_currents(solved.direct, rim)
    return FluxFound(flux=flux, keeps_off=keeps_off, weights=weights)


def keep_off(solved: SolvedMagnets | SolvedSolid, points: Array) -> npt.NDArray[np.bool_]:
    """Which points (3, n) lie in air and far enough off every body for sums over charges to hold."""
    middles, radius = _elements(solved)
    return np.asarray(np.all([_off(middles * mirror[:, None], radius, points)
                              for mirror, _ in mirrored_pieces(solved)], axis=0))


def _off(middles: Array, radius: Array, points: Array) -> npt.NDArray[np.bool_]:
    away, which = cKDTree(middles.T).query(points.T, k=min(_NEAREST, radius.size))
    return np.asarray(np.all(np.reshape(away >= _OFF * radius[which], (points.shape[1], -1)), axis=1))


def flux_of_currents(direct: DirectCurrents, rim: Rim) -> float:
    """The flux of coils in air through a rim, Wb; it may run anywhere, through a winding too."""
    return float(np.sum(direct.potential(rim.points) * rim.steps))


def flux_within(solved: SolvedMagnets, members: Sequence[int], axis: int, at: float) -> tuple[float, float]:
    """Flux along an axis within bodies, by their numbers, at a place on it, m: Wb, and the section's area, m².

    Where the plane cuts none of them both are 0.
    """
    rise = rise_across(solved, members, axis, at)
    return weighed(solved, rise.weights), rise.area


def weighed(solved: SolvedMagnets, weights: Sequence[Array]) -> float:
    """∫ B·g dV over the meshed bodies, Wb, for g (3, e, q) in 1/m."""
    return sum(float(np.sum(b * g * e.weight))
               for e, b, g in zip(solved.space.bodies, solved.bias.b, weights, strict=True))


@dataclass(frozen=True, kw_only=True, eq=False)
class Rise:
    """χ across a section of some bodies.

    Attributes
    ----------
    weights : sequence of arrays (3, e, q)
        ∇χ in every body, all images of the meshed piece together, 1/m.
    area : float
        S, m².
    middle : float
        Mean place of the sections on the axis, m.
    """

    weights: Sequence[Array]
    area: float
    middle: float


def rise_across(solved: SolvedMagnets, members: Sequence[int], axis: int, at: float) -> Rise:
    """χ that rises within an element about a place, nowhere beyond the ends of its body."""
    rise = _rise(solved, members, axis, at, at)
    if abs(rise.middle - at) < _BESIDE:  # elements lie as they lie
        rise = _rise(solved, members, axis, at, 2 * at - rise.middle)
    return rise


def wide_rise(solved: SolvedMagnets, members: Sequence[int], axis: int, at: float) -> Rise:
    """χ that rises within two, cut off at the ends of its body."""
    return _rise(solved, members, axis, at, at, wide=True)


def _rise(solved: SolvedMagnets, members: Sequence[int], axis: int, at: float, about: float, *,
          wide: bool = False) -> Rise:
    weights, area, moment = [np.zeros_like(e.points) for e in solved.space.bodies], 0.0, 0.0
    for mirror, sign, own in pieces_of(solved, members):
        for i in own:
            e = solved.space.bodies[i]
            along = mirror[axis] * solved.space.nodes[axis]
            there = along[e.dofs]
            cut = (there.min(axis=0) <= at + _FLAT) & (there.max(axis=0) >= at - _FLAT)  # a plane of symmetry too
            if not np.any(cut):
                continue
            half = float(np.median(np.ptp(there[:, cut], axis=0))) / 2
            # the bounds are those of the whole body, its image's if it has one
            off = min(abs(at - mirror[axis] * end[axis]) for end in solved.bodies[i].form.bounds)
            half = 2 * half if wide else min(half, max(off, _FLAT))
            slope = e.field(np.clip((along - about) / (2 * half) + 0.5, 0.0, 1.0))
            weights[i] += sign * slope
            through = mirror[axis] * slope[axis] * e.weight
            area += float(np.sum(through))
            moment += float(np.sum(through * mirror[axis] * e.points[axis]))
    return Rise(weights=weights, area=area, middle=moment / area if area else at)


def _elements(solved: SolvedMagnets | SolvedSolid) -> tuple[Array, Array]:
    """Middles (3, e) of the bodies' elements, and the radius (e,) about it that holds each, m."""
    nodes = solved.space.nodes[:, np.concatenate([e.dofs for e in solved.space.bodies], axis=1)]
    middles = nodes.mean(axis=1)
    return middles, np.sqrt(np.max(np.sum((nodes - middles[:, None]) ** 2, axis=0), axis=0))


def _of_rim(solved: SolvedMagnets, rim: Rim) -> list[Array]:
    """What B − μ0 H counts for in the flux (3, e, q), 1/m: H of an ampere round the rim, by reciprocity."""
    return [sum((sign * mirror[:, None] * _round(rim, e.points.reshape(3, -1) * mirror[:, None])
                 for mirror, sign in mirrored_pieces(solved)), np.zeros((3, e.weight.size))).reshape(e.points.shape)
            for e in solved.space.bodies]


def _round(rim: Rim, places: Array) -> Array:
    """∮ R × dl/(4π R³) at places (3, n), R from there to the rim."""
    total, few = np.zeros(places.shape), max(1, _AT_ONCE // max(places.shape[1], 1))
    for first in range(0, rim.points.shape[1], few):
        r = rim.points[:, first:first + few, None] - places[:, None]
        turned = np.cross(r, rim.steps[:, first:first + few, None], axis=0)
        total += np.sum(turned / np.sum(r * r, axis=0) ** 1.5, axis=1)
    return total / (4 * np.pi)
