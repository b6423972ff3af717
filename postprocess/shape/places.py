"""Where a string's fields are taken: on its axis and round it, at a few heights."""

from __future__ import annotations

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import StringShape

from ..string.grid import StringGrid
from .passes import AlongString

HEIGHTS = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
"""In steps, about rest."""
REST = 2
"""Which of them is rest."""


class StringPlaces:
    """Places of a string at rest and beside it.

    Parameters
    ----------
    shape : StringShape
    grid : StringGrid
    radius : float
        Where the charges sit, m.
    step : float
        Between the heights, m.
    around : int
        Points round the axis.

    Attributes
    ----------
    z : array (b,)
        Heights of the axis, m.
    points : array (3, b, 1 + around, n + 2)
        On the axis and on the circle round it, m.
    """

    def __init__(self, shape: StringShape, grid: StringGrid, radius: float, step: float, around: int = 4) -> None:
        self.shape, self.grid = shape, grid
        self.z = shape.axis_height + step * HEIGHTS
        angle = 2 * np.pi * np.arange(around) / around
        dy = np.concatenate([[0.0], radius * np.sin(angle)])[None, :, None]
        dz = np.concatenate([[0.0], radius * np.cos(angle)])[None, :, None]
        X, Y, Z = np.broadcast_arrays(grid.x, shape.y + dy, self.z[:, None, None] + dz + shape.slope * grid.x)
        self.points = np.stack([X, Y, Z])
        self._cos, self._sin = 1 / np.hypot(1, shape.slope), shape.slope / np.hypot(1, shape.slope)
        self._averaged = grid.averaged(np.eye(grid.x.size))[:, 1:-1]

    @property
    def middle(self) -> int:
        """The node over the origin."""
        return int(np.argmin(np.abs(self.grid.x)))

    def taken(self, fields: Array) -> AlongString:
        """Of fields (3, …, b, 1 + around, n + 2) what a string sees of them, with the same axes before b."""
        along = self._cos * fields[0] + self._sin * fields[2]
        normal = self._cos * fields[2] - self._sin * fields[0]
        section = [(f[..., 0, :] + f[..., 1:, :].mean(axis=-2)) / 2 for f in (fields[1], normal)]
        return AlongString(along=along[..., 1:, :].mean(axis=-2) @ self._averaged, across=np.stack(section, axis=-2))

    def back(self, bars: AlongString) -> Array:
        """∂J/∂ of fields (3, b, 1 + around, n + 2) from ∂J/∂ of what was taken of them."""
        around = self.points.shape[2] - 1
        share = np.full(around + 1, 0.5 / around)
        share[0] = 0.5
        along = np.zeros(self.points.shape[1:])
        along[:, 1:] = (bars.along @ self._averaged.T)[:, None] / around
        y, normal = (bars.across[:, i, None] * share[:, None] for i in (0, 1))
        return np.stack([self._cos * along - self._sin * normal, y, self._sin * along + self._cos * normal])
