"""One demonstration: what was found, and everything a lesson takes from it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from stringflux.geometry.errors import InputError
from stringflux.geometry.units import shown

from .parts import Content

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True, kw_only=True, eq=False)
class Demonstration(Content):
    """A demonstration: what :class:`.parts.Content` holds, drawn and told."""

    def plot(self, ax: Axes | None = None, what: str = "") -> Axes:
        """Draw one trace of the moving picture over time, the first one if `what` is left out.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.
        what : str
            The name of a trace.

        Raises
        ------
        InputError
            For a trace that there is none of.
        """
        from ..figures.panel import panel
        from .slides import LIGHT, trace_panel

        traces = {t.name: t for t in self.moving.traces}
        if what and what not in traces:
            raise InputError(f"what: received {shown(what)}; write {', '.join(traces)}")
        panels = {name: partial(trace_panel, moving=self.moving, trace=trace, palette=LIGHT)
                  for name, trace in traces.items()}
        return panel(ax, panels, what or next(iter(traces)))

    def figures(self, *, dark: bool = False) -> dict[str, Figure]:
        """The slides, by name, on white or on a dark ground; 1280 × 720 at 100 dpi."""
        from .slides import DARK, LIGHT, drawn

        return {slide.name: drawn(slide, DARK if dark else LIGHT) for slide in self.slides}

    def text(self) -> str:
        """The law with this case's numbers put in line by line, in plain words."""
        from .words import text_of

        return text_of(self)

    def page(self) -> str:
        """The moving picture as one HTML page that fetches nothing."""
        from .player import page_of

        return page_of(self)
