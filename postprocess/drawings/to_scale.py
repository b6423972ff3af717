"""A case drawn to scale, whichever solver it goes to."""

from __future__ import annotations

from matplotlib.figure import Figure

from stringflux.geometry.case.model import Case

from ..figures.style import house_style
from .build import build_figure
from .row import drawing_figure


def drawing(case: Case) -> Figure:
    """Sections and view from the strings, to scale with dimensions; nothing is solved."""
    with house_style():
        return drawing_figure(case) if case.is_plain_row else build_figure(case)
