"""One panel on axes that a person brings, or on new ones: what every record's `plot` goes through."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from matplotlib.axes import Axes

from stringflux.geometry.errors import InputError
from stringflux.geometry.units import shown

from .style import house_style

SIZE, PICTURE = (6.4, 4.0), (6.4, 6.4)  # inches

Draw = Callable[[Axes], object]


def panel(ax: Axes | None, panels: Mapping[str, Draw], what: str, absent: Mapping[str, str] | None = None, *,
          to_scale: bool = False) -> Axes:
    """Draw one of a record's panels in the house's style.

    Parameters
    ----------
    ax : Axes or None
        None: those of a new figure of pyplot's, which a notebook shows.
    panels : mapping of str to callable
        What draws each panel.
    what : str
        Which one.
    absent : mapping of str to str, optional
        Panels that this record lacks, and why.
    to_scale : bool
        A picture, with the same mm both ways: it has no lines to be named in a legend.

    Raises
    ------
    InputError
        For a panel that is not there; one sentence.
    """
    if what not in panels:
        why = (absent or {}).get(what)
        if why:
            raise InputError(f"what: received {shown(what)}, {why}")
        raise InputError(f"what: received {shown(what)}; write {', '.join(panels)}")
    with house_style():
        if ax is None:
            from matplotlib import pyplot

            size, layout = (PICTURE, "compressed") if to_scale else (SIZE, "constrained")
            ax = pyplot.figure(figsize=size, layout=layout).subplots()
        panels[what](ax)
        if not to_scale and len(ax.get_legend_handles_labels()[1]) > 1 and ax.get_legend() is None:
            ax.legend()
    return ax
