"""Values at points, over the way along them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from matplotlib.axes import Axes

from stringflux.geometry.arrays import Array

from .style import SOFT, string_colours

_AXES = {0: "along the strings, x", 1: "across the strings, y", 2: "up from the top plate, z"}


def lines(ax: Axes, points: Array, values: Mapping[str, Array], name: str, unit: str) -> None:
    """Values (n,) in `unit`, shown in thousandths, by name: over the coordinate along which the points lie, or over
    the way from the first one."""
    moved = np.flatnonzero(np.ptp(points, axis=1) > 1e-9)
    if moved.size == 1:
        way, label = points[moved[0]], _AXES[int(moved[0])]
    else:
        steps = np.linalg.norm(np.diff(points, axis=1), axis=0)
        way, label = np.append(0.0, np.cumsum(steps)), "way along the points"
    ax.axhline(0.0, color=SOFT, lw=0.7)
    marker = "" if way.size > 2 else "o"
    for (part, row), colour in zip(values.items(), string_colours(len(values)), strict=True):
        ax.plot(1e3 * way, 1e3 * row, color=colour, label=part, marker=marker)
    ax.set(xlabel=f"{label} (mm)", ylabel=f"{name} (m{unit})")
