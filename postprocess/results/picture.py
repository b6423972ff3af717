"""The field in a plane through a pickup, as arrays, with lines of equal flux: for pictures and for other programs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True, kw_only=True, eq=False)
class FieldPicture:
    """B₀ of all magnets in a plane, and what the strings add.

    Attributes
    ----------
    plane : str
        "along", looking along the strings: y across and z up; "side", across the strings: x along them and z up.
    at : float
        x, or y, of the plane, m.
    u, z : arrays (nu,), (nz,)
        Places across the picture (y, or x), and up from the top plate, m.
    b : array (3, nz, nu)
        B x, y, z without the strings, in the bodies too, T.
    strings : array (3, nz, nu)
        What the magnetised strings add, the poles held as they are; nan inside a string, T.
    inside : int array (nz, nu)
        Index into `names`, −1 in air.
    names : tuple of str
        "pole 1", … or the bodies' own names.
    lines : tuple of arrays (2, n)
        Field lines without the strings, u and z, m: of B's part in the plane.
    step : float
        Flux between neighbouring lines where they leave the middle of a pole, Wb round its axis (`per_metre`: of a
        body, Wb across one metre).
    per_metre : bool
    endless : bool
        Whether it is the section of endless bars.
    """

    plane: str
    at: float
    u: Array
    z: Array
    b: Array
    strings: Array
    inside: npt.NDArray[np.int64]
    names: tuple[str, ...]
    lines: tuple[Array, ...]
    step: float
    per_metre: bool = False
    endless: bool = False

    @property
    def size(self) -> Array:
        """|B| (nz, nu) without the strings, T."""
        return np.asarray(np.sqrt(np.sum(self.b**2, axis=0)))

    def plot(self, ax: Axes | None = None, what: str = "field") -> Axes:
        """Draw the "field" of the magnets with its lines, or what the "strings" add.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.

        Raises
        ------
        InputError
            For another panel.
        """
        from ..figures.panel import panel
        from ..figures.plane import plane_panel

        added, grid, solid = np.sqrt(np.sum(self.strings**2, axis=0)), (self.u, self.z), self.inside >= 0
        return panel(ax, {"field": lambda ax: plane_panel(ax, self.plane, grid, solid, self.size, self.lines),
                          "strings": lambda ax: plane_panel(ax, self.plane, grid, solid, added, ())}, what,
                     to_scale=True)
