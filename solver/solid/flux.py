r"""Flux through a piece of a plane from the vector potential round its rim, and flux within the section of a body.

    Φ = ∮ A·dl,     A(r) = μ0/4π Σ_i w_i M_i × (r − r_i)/|r − r_i|³

over the points i of the bodies' elements, w_i their volumes; direct currents in coils add their own A. The rim alone
has to lie in air: what it goes round, a pole say, may reach through the plane. The rim has to keep off the bodies as
far as the sum of points is smooth: about the size of an element. A winding is no hindrance.

Within bodies alone, as a search coil wound close round them has it,

    Φ = ∫ B·∇χ dV over the bodies,     S = ∫ n·∇χ dV

χ rising from 0 to 1 across the section, within about one element. It is the mean over all sections there, and the
discrete field conserves it, which it does not do with B at points.

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
    """

    flux: float
    keeps_off: bool


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
    bodies = list(zip(solved.space.bodies, solved.bias.b, solved.bias.h, strict=True))
    places = np.concatenate([e.points.reshape(3, -1) for e, _, _ in bodies], axis=1)
    moments = np.concatenate([((b / MU0 - h) * e.weight).reshape(3, -1) for e, b, h in bodies], axis=1)
    middles, radius = _elements(solved)
    keeps_off, flux = True, 0.0
    for mirror, sign in mirrored_pieces(solved):
        image = places * mirror[:, None]
        keeps_off = keeps_off and bool(np.all(_off(middles * mirror[:, None], radius, rim.points)))
        flux += _round(rim, image, sign * moments * mirror[:, None])
    if solved.direct:
        flux += flux_of_currents(solved.direct, rim)
    return FluxFound(flux=flux, keeps_off=keeps_off)


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
    flux = area = 0.0
    for mirror, sign, own in pieces_of(solved, members):
        for i in own:
            e, b = solved.space.bodies[i], solved.bias.b[i]
            along = mirror[axis] * solved.space.nodes[axis]
            there = along[e.dofs]
            cut = (there.min(axis=0) <= at + _FLAT) & (there.max(axis=0) >= at - _FLAT)  # a plane of symmetry too
            if not np.any(cut):
                continue
            half = float(np.median(np.ptp(there[:, cut], axis=0))) / 2
            rise = e.field(np.clip((along - at) / (2 * half) + 0.5, 0.0, 1.0))
            flux += sign * float(np.sum(b * rise * e.weight))
            area += mirror[axis] * float(np.sum(rise[axis] * e.weight))
    return flux, area


def _elements(solved: SolvedMagnets | SolvedSolid) -> tuple[Array, Array]:
    """Middles (3, e) of the bodies' elements, and the radius (e,) about it that holds each, m."""
    nodes = solved.space.nodes[:, np.concatenate([e.dofs for e in solved.space.bodies], axis=1)]
    middles = nodes.mean(axis=1)
    return middles, np.sqrt(np.max(np.sum((nodes - middles[:, None]) ** 2, axis=0), axis=0))


def _round(rim: Rim, places: Array, moments: Array) -> float:
    """∮ A·dl; (m × R)·dl = m·(R × dl)."""
    total, few = 0.0, max(1, _AT_ONCE // max(places.shape[1], 1))
    for first in range(0, rim.points.shape[1], few):
        r = rim.points[:, first:first + few, None] - places[:, None]
        turned = np.cross(r, rim.steps[:, first:first + few, None], axis=0)
        total += float(np.sum(np.einsum("ipn,in->pn", turned, moments) / np.sum(r * r, axis=0) ** 1.5))
    return MU0 / (4 * np.pi) * total
