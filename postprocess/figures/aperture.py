"""The aperture of a string."""

from __future__ import annotations

from matplotlib.axes import Axes

from stringflux.geometry.arrays import Array

from .fields import REACH
from .style import FAINT, INK, SOFT


def weight(ax: Axes, x: Array, w: Array, width: float = 0.0) -> None:
    """w (n,) in V·s/m² over places x (n,) in m; grey: the even window of that width, m."""
    if width:
        ax.axvspan(-500 * width, 500 * width, color=FAINT, lw=0, zorder=0)
        ax.set_title(f"Listens over {1e3 * width:.3g} mm (grey)")
    ax.axhline(0.0, color=SOFT, lw=0.7)
    ax.plot(1e3 * x, w, color=INK)
    ax.set(xlim=(-1e3 * REACH, 1e3 * REACH), xlabel="place along the string (mm)",
           ylabel="w (mV per m/s and mm)")
