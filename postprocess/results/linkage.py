"""What a string links with the coils over its displacement: λ(y, z) about its rest."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import InputError

from ..plucked.surface import Surface, surface
from ..records.prediction import StringRecord

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True, kw_only=True, eq=False)
class Linkage:
    """λ of one string over displacements across (y) and up (z) from its rest, on the static curve of its steel.

    Attributes
    ----------
    string : StringRecord
        Its `map_y` (ny,), `map_z` (nz,) in m and `map_linkage` (ny, nz) in Wb are the map; between its places λ is
        the polynomial through them.
    """

    string: StringRecord

    @property
    def reach(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Least and greatest displacement across, and up, m."""
        return self._surface.y, self._surface.z

    def at(self, y: Array | float = 0.0, z: Array | float = 0.0) -> Array:
        """λ at displacements, Wb, of the shape that y and z have together.

        Raises
        ------
        InputError
            Beyond the map.
        """
        across, up, shape = self._inside(y, z)
        return self._surface.linkage(across, up).reshape(shape)

    def slopes(self, y: Array | float = 0.0, z: Array | float = 0.0) -> tuple[Array, Array]:
        """∂λ/∂y and ∂λ/∂z there, V·s/m: what the coils give for a string that moves at 1 m/s, but for the sign.

        Raises
        ------
        InputError
            Beyond the map.
        """
        across, up, shape = self._inside(y, z)
        by_y, by_z = self._surface.slopes(across, up)
        return by_y.reshape(shape), by_z.reshape(shape)

    def plot(self, ax: Axes | None = None, what: str = "up") -> Axes:
        """Draw λ over the displacement "up" (with the slope at rest) or "across", or S "beside" its place.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.

        Raises
        ------
        InputError
            For another panel.
        """
        from ..figures import linkage
        from ..figures.panel import panel

        strings = (self.string,)
        return panel(ax, {"up": lambda ax: linkage.up_and_down(ax, strings),
                          "across": lambda ax: linkage.sideways(ax, strings),
                          "beside": lambda ax: linkage.beside(ax, strings)}, what)

    @cached_property
    def _surface(self) -> Surface:
        return surface(self.string.map_y, self.string.map_z, self.string.map_linkage)

    def _inside(self, y: Array | float, z: Array | float) -> tuple[Array, Array, tuple[int, ...]]:
        across, up = np.broadcast_arrays(np.asarray(y, float), np.asarray(z, float))
        for name, values, (low, high) in (("y", across, self.reach[0]), ("z", up, self.reach[1])):
            out = values[(values < low - 1e-9) | (values > high + 1e-9)]
            if out.size:
                raise InputError(f"{name}: received {1e3 * float(out.flat[0]):.4g} mm; the map goes from "
                                 f"{1e3 * low:.4g} to {1e3 * high:.4g} mm")
        return across.ravel(), up.ravel(), across.shape
