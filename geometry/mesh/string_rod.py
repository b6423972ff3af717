"""Strings in a 3-D mesh: prisms in layers along x, long where nothing changes and short over the poles.

A string is some 100 times longer than thick. Elements of one size in every direction would be a million; here each
quarter of its section is swept along x in layers that grow from the rows outwards, and its elements are cut from
them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, cos, log, pi, sin
from typing import Any

import numpy as np

from ..arrays import Array
from ..shapes.symmetry import Symmetry

_QUARTERS = 4
_ON = 1e-5  # radii: nodes this near to a string's surface are on it


@dataclass(frozen=True, kw_only=True)
class RodSizes:
    """How a string is divided: edges on a quarter of its circumference, rings, and layers from `first` m at its
    fine places on, each `ratio` times longer than the one before."""

    arc: int = 3
    rings: int = 2
    first: float = 0.25e-3
    ratio: float = 1.06

    def layers(self, length: float) -> int:
        """How many there are in `length`, m."""
        return max(1, ceil(log(1 + length * (self.ratio - 1) / self.first) / log(self.ratio)))


@dataclass(frozen=True, kw_only=True)
class StringRod:
    """A string as a body: its axis at (0, y, z), along x with dz/dx = slope, ± half_length; m. It is meshed finest
    at the places x in `fine`."""

    y: float
    z: float
    radius: float
    half_length: float
    slope: float = 0.0
    fine: tuple[float, ...] = (0.0,)


def stretches(rod: StringRod, mirrored: bool) -> list[tuple[float, float]]:
    """From every fine place half way to the next one, or to the string's end, both ways, m; mirrored: from x = 0."""
    begin = 0.0 if mirrored else -rod.half_length
    places = sorted({abs(x) for x in rod.fine} if mirrored else set(rod.fine))
    between = [(a + b) / 2 for a, b in pairwise(places)]
    found = [(x, end) for x, low, high in zip(places, [begin, *between], [*between, rod.half_length], strict=True)
             for end in (low, high)]
    return [(x, end) for x, end in found if x != end]


def add_rod(occ: Any, rod: StringRod, symmetry: Symmetry) -> list[tuple[int, int]]:
    """The solids of a string: quarters of its section, on either side of its fine places."""
    halved = symmetry.y and abs(rod.y) < 1e-9
    out = []
    for start, end in stretches(rod, symmetry.x):
        z = rod.z + rod.slope * start
        for k in range(-1, 1) if halved else range(-1, _QUARTERS - 1):
            a, b = k * pi / 2, (k + 1) * pi / 2
            middle = occ.addPoint(start, rod.y, z)
            ends = [occ.addPoint(start, rod.y + rod.radius * _cos(t), z + rod.radius * _sin(t)) for t in (a, b)]
            loop = occ.addCurveLoop([occ.addLine(middle, ends[0]), occ.addCircleArc(ends[0], middle, ends[1]),
                                     occ.addLine(ends[1], middle)])
            face = occ.addPlaneSurface([loop])
            swept = occ.extrude([(2, face)], end - start, 0.0, rod.slope * (end - start))
            out += [piece for piece in swept if piece[0] == 3]
    return out


def divide_rods(gmsh: Any, volumes: Sequence[int], rod: StringRod, mirrored: bool, sizes: RodSizes) -> None:
    """Prescribe the division of the solids of a string."""
    model, mesh = gmsh.model, gmsh.model.mesh
    places = {x for x, _ in stretches(rod, mirrored)}
    for volume in volumes:
        faces = [s for _, s in model.getBoundary([(3, volume)], oriented=False)]
        for face in faces:
            for _, curve in model.getBoundary([(2, face)], oriented=False):
                low, high = model.getParametrizationBounds(1, curve)
                start, end = (model.getValue(1, curve, [t[0]])[0] for t in (low, high))
                if abs(end - start) > 1e-6:
                    first, last = (min(abs(x - place) for place in places) for x in (start, end))
                    mesh.setTransfiniteCurve(curve, sizes.layers(abs(end - start)) + 1, "Progression",
                                             sizes.ratio if first < last else -sizes.ratio)
                elif model.getType(1, curve) == "Circle":
                    mesh.setTransfiniteCurve(curve, sizes.arc + 1)
                else:
                    mesh.setTransfiniteCurve(curve, sizes.rings + 1)
            curves = model.getBoundary([(2, face)], oriented=False)
            if len(curves) == 3:
                lines = [c for _, c in curves if model.getType(1, c) != "Circle"]
                ends = [{p for _, p in model.getBoundary([(1, c)], oriented=False)} for c in lines]
                centre = (ends[0] & ends[1]).pop()
                mesh.setTransfiniteSurface(face, "Left", [centre, *(ends[0] - {centre}), *(ends[1] - {centre})])
            else:
                mesh.setTransfiniteSurface(face)


def round_rod(points: Array, ends: Any, middles: Array, rod: StringRod, sizes: RodSizes) -> None:
    """Put the middles of edges along a string's round surface on it, at r = `radius` from its axis.

    gmsh leaves those of the diagonals on one quarter straight (0.6 % of the string's volume).
    """
    def across(p: Array) -> Array:
        return np.asarray(np.stack([p[1] - rod.y, p[2] - rod.z - rod.slope * p[0]]) / rod.radius)

    radial = across(points)
    on = np.flatnonzero((np.abs(np.hypot(*radial) - 1) < _ON) & (np.abs(points[0]) < rod.half_length * (1 + _ON)))
    along = np.flatnonzero(np.isin(ends, on).all(axis=0))
    cosine = np.sum(radial[:, ends[0, along]] * radial[:, ends[1, along]], axis=0)
    along = along[cosine > cos(1.01 * pi / 2 / sizes.arc)]  # not what goes through the string
    way = across(middles[:, along])
    way /= np.hypot(*way)
    middles[1, along] = rod.y + rod.radius * way[0]
    middles[2, along] = rod.z + rod.slope * middles[0, along] + rod.radius * way[1]


def _cos(t: float) -> float:
    return 0.0 if abs(cos(t)) < 1e-12 else cos(t)


def _sin(t: float) -> float:
    return 0.0 if abs(sin(t)) < 1e-12 else sin(t)
