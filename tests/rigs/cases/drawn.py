"""A record's panel on axes of one's own."""

from __future__ import annotations

from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from stringflux.geometry.arrays import Array


def drawn(record: Any, what: str, **more: Any) -> Axes:
    """The record's panel on new axes, drawn to the end, the caller's settings untouched."""
    before = dict(matplotlib.rcParams)
    ax = Figure(layout="constrained").subplots()
    assert record.plot(ax, what, **more) is ax
    ax.figure.draw_without_rendering()
    assert dict(matplotlib.rcParams) == before
    return ax


def line_of(ax: Axes, number: int = 0) -> tuple[Array, Array]:
    """Abscissae and ordinates of a line."""
    line = ax.lines[number]
    return np.asarray(line.get_xdata(), float), np.asarray(line.get_ydata(), float)
