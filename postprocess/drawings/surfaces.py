"""Coils and strings as surfaces in space."""

from __future__ import annotations

from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.kernel.measure import facets
from stringflux.geometry.kernel.overlaps import winding_room
from stringflux.geometry.shapes.coil_path import PathCoil
from stringflux.geometry.shapes.row import Racetrack, StringShape

from ..records.prediction import StringRecord

FACETS = 48  # round a pole or an end of a coil
REACH = 0.016  # m of string shown to each side


def race_track(pv: Any, coil: Racetrack) -> Any:
    """The winding as a closed surface."""
    if isinstance(coil, PathCoil):
        found = facets(winding_room(coil, coil.build))
        return pv.PolyData.from_regular_faces(found.points, found.triangles)
    t = np.linspace(0, np.pi, FACETS)
    end = np.stack([np.cos(t), np.sin(t)], axis=1)
    half = coil.straight / 2

    def ring(radius: float) -> Array:
        one = radius * end + [0.0, half]
        loop = np.concatenate([one, -one])
        return np.concatenate([loop, loop[:1]]) + [0.0, coil.y_centre]

    around = [(ring(coil.inner_radius + w), z) for w, z in coil.corners[::-1]]
    corners, n = [*around, around[0]], len(around[0][0])
    points = np.concatenate([np.column_stack([loop, np.full(n, z)]) for loop, z in corners])
    grid = pv.StructuredGrid()
    grid.points = points
    grid.dimensions = (n, len(corners), 1)
    return grid.extract_surface(algorithm=None).clean().triangulate()


def string_tube(pv: Any, shape: StringShape, record: StringRecord) -> Any:
    """A string in its true thickness, "flux density" (T) along it."""
    x = np.linspace(-REACH, REACH, 121)
    line = pv.lines_from_points(np.column_stack(
        [x, np.full(x.size, shape.y), shape.axis_height + shape.slope * x]))
    line["flux density"] = np.interp(x, record.x, record.line_flux_density)
    return line.tube(radius=shape.outer_radius, n_sides=20)
