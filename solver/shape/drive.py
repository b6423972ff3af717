"""The coil's potentials at the unknowns of a pole of changing shape, as smooth functions of their places.

Sampled once on rings that lie closer than those of :mod:`.grid`: near the coil's ends the field changes
within less than a millimetre.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import PlacedPole, PoleShape, Racetrack

from ..row.coil_on_pole import potentials_at
from ..section.space import Section
from .grid import Interpolation, ShapeGrid, shape_grid

_SPACING = 0.4e-3


@dataclass(frozen=True, kw_only=True, eq=False)
class ShapeDrive:
    """Grid of one pole shape, for all its places."""

    grid: ShapeGrid
    envelope: PoleShape

    def at(self, nodes: Array) -> Interpolation:
        """The interpolation to unknowns at `nodes` (2, k); it serves every order and place."""
        return self.grid.at(nodes, 0)

    def values(self, coil: Racetrack, place: PlacedPole, orders: int) -> Array:
        """φ_m / r^m times r_k^m, that is φ_m, at the rings of the pole at `place`, (orders, K), A per ampere."""
        owner = np.concatenate([np.full(part.size, i) for i, part in enumerate(self.grid.parts)])
        v = potentials_at(coil, replace(place, shape=self.envelope), np.stack([self.grid.r, self.grid.z]), owner,
                          orders)
        return np.asarray(v * self.grid.r ** np.arange(orders)[:, None])


def shape_drive(section: Section, room_up: float, room_out: float) -> ShapeDrive:
    """Rings for shapes that stand `room_up` higher and `room_out` wider than the section's, m."""
    parts = []
    for i, part in enumerate(section.shape.parts):
        top, radius = part.top + (room_up if i == 0 else 0.0), part.radius + room_out
        parts.append(replace(part, outline=((0.0, part.bottom), (radius, part.bottom), (radius, top), (0.0, top))))
    return ShapeDrive(grid=shape_grid(section, room_up, room_out, _SPACING), envelope=PoleShape(parts=tuple(parts)))
