"""λ round the loop of a string whose metal remembers, and how that is drawn."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

from ..string.loop import SwingLoop

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True, kw_only=True, eq=False)
class StringLoop(SwingLoop):
    """The loop of one string of a pickup at one amplitude; what :class:`.SwingLoop` has.

    Attributes
    ----------
    number : int
        Of the string, from 1.
    """

    number: int

    @classmethod
    def of(cls, number: int, loop: SwingLoop) -> StringLoop:
        """A loop as that of string `number`."""
        return cls(number=number, **{f.name: getattr(loop, f.name) for f in fields(SwingLoop)})

    def plot(self, ax: Axes | None = None, what: str = "linkage") -> Axes:
        """Draw the "linkage" over the displacement with the slope S, or the "opening", what is left without that.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.

        Raises
        ------
        InputError
            For another panel.
        """
        from ..figures import loop
        from ..figures.panel import panel

        return panel(ax, {"linkage": lambda ax: loop.linkage(ax, self), "opening": lambda ax: loop.opening(ax, self)},
                     what)
