"""A field at points, and how it is drawn along them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from stringflux.geometry.arrays import Array

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True, kw_only=True, eq=False)
class Field:
    """B₀ of the magnets, or b of one ampere at the terminals.

    Attributes
    ----------
    name, unit : str
        "B" in "T", or "b" in "T/A".
    points, values : arrays (3, n)
        x y z in m, and the components there.
    """

    name: str
    unit: str
    points: Array
    values: Array

    @property
    def size(self) -> Array:
        """Modulus (n,)."""
        return np.asarray(np.sqrt(np.sum(self.values**2, axis=0)))

    def plot(self, ax: Axes | None = None, what: str = "components") -> Axes:
        """Draw the "components" or the "size" over the way along the points, from the first one.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.

        Raises
        ------
        InputError
            For another panel.
        """
        from ..figures.fields import along_points
        from ..figures.panel import panel

        parts = {f"{self.name}{axis}": row for axis, row in zip("xyz", self.values, strict=True)}
        whole = {f"|{self.name}|": self.size}
        return panel(ax, {"components": lambda ax: along_points(ax, self.points, parts, self.name, self.unit),
                          "size": lambda ax: along_points(ax, self.points, whole, f"|{self.name}|", self.unit)}, what)
