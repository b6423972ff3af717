"""What a verification found: the record that tables, figures and files are made of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from stringflux.geometry.shapes.symmetry import Symmetry

from ..records.verification import Compared

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True, kw_only=True, eq=False)
class Verification(Compared):
    """One string of a case by the fast chain and in 3-D.

    Attributes
    ----------
    title : str
    string : int
        Number from 1.
    core_only : bool
        A wound string whose core alone was computed.
    quality : str
    gap, radius : float
        Of the string's underside over the face, and its own, m.
    x : float
        Place along the strings of that face, where the fields are compared, m.
    below : str
        What that face is called.
    slope_at_rest : float
        |S| of the chain at rest itself, V·s/m.
    symmetry : Symmetry
        Which halves were not meshed.
    notes : tuple of str
    seconds : float
    """

    title: str
    string: int
    core_only: bool
    quality: str
    gap: float
    radius: float
    x: float
    below: str
    slope_at_rest: float
    symmetry: Symmetry
    notes: tuple[str, ...]
    seconds: float

    def plot(self, ax: Axes | None = None, what: str = "differences") -> Axes:
        """Draw the "differences" of both ways, λ over "heights", or what is left from mesh to "meshes".

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.

        Raises
        ------
        InputError
            For another panel.
        """
        from ..figures import verify
        from ..figures.panel import panel

        return panel(ax, {"differences": lambda ax: verify.differences(ax, self),
                          "heights": lambda ax: verify.over_heights(ax, self),
                          "meshes": lambda ax: verify.over_meshes(ax, self)}, what)

    def figures(self) -> dict[str, Figure]:
        """The figure that `stringflux verify` writes, by the name of its file."""
        from ..figures.verify import verify_figure

        core = ", its core alone" if self.core_only else ""
        return {"verify": verify_figure(self, self.title or "Untitled case", f"String {self.string}{core}: the quick "
                                        "model against a full 3-D solution with the string meshed")}
