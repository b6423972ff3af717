"""A material's curve, and how it is drawn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from stringflux.geometry.arrays import Array
from stringflux.solver.materials import Material, is_steel

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True, kw_only=True, eq=False)
class MaterialCurve:
    """B over H of a material as it is computed with.

    Attributes
    ----------
    material : Material
        Its numbers, with their source.
    h, b : arrays (n,)
        A/m and T: a magnet's second quadrant, a soft steel's or a string's static curve from 0.
    """

    material: Material
    h: Array
    b: Array

    @property
    def name(self) -> str:
        """In the table or the case."""
        return self.material.name

    @property
    def source(self) -> str:
        """Where the numbers come from."""
        return self.material.source

    def plot(self, ax: Axes | None = None, what: str = "curve") -> Axes:
        """Draw the "curve", or of a soft steel the "reversible" permeability over the bias.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.

        Raises
        ------
        InputError
            For another panel.
        """
        from ..figures import material
        from ..figures.panel import panel

        m = self.material
        panels: dict[str, Callable[[Axes], object]] = {"curve": lambda ax: material.curve(ax, m)}
        if is_steel(m):
            panels["reversible"] = lambda ax: material.small_signal(ax, m)
        return panel(ax, panels, what, {"reversible": "but only a soft steel has one drawn"})

    def figures(self) -> dict[str, Figure]:
        """The figure that `stringflux materials NAME --plot` draws, by the material's name."""
        from ..figures.material import material_figure

        return {self.name: material_figure(self.material)}


def material_curve(material: Material) -> MaterialCurve:
    """The curve of a material, 400 points."""
    h, b = material.curve_points(400)
    return MaterialCurve(material=material, h=h, b=b)
