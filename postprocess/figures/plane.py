"""|B| in a plane through a pickup, with its lines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.colors import LogNorm
from matplotlib.ticker import FuncFormatter

from stringflux.geometry.arrays import Array

_SPAN = 10**2.7  # of |B|, from the brightest colour to the darkest
_ACROSS = {"along": "across the strings (mm)", "side": "along the strings, bridge to the right (mm)"}


def plane_panel(ax: Axes, plane: str, grid: tuple[Array, Array], solid: npt.NDArray[np.bool_], size: Array,
                lines: Sequence[Array]) -> None:
    """|B| (nz, nu), T, over u and z, m, on a scale of its own, what is solid (nz, nu), and lines (2, n), m."""
    high = float(np.nanmax(size)) or 1.0
    u, z = (1e3 * a for a in grid)
    filled = ax.pcolormesh(u, z, np.clip(size, high / _SPAN, None), norm=LogNorm(high / _SPAN, high), cmap="viridis",
                           shading="nearest", rasterized=True)
    if np.any(solid):
        ax.contour(u, z, solid.astype(float), levels=[0.5], colors="black", linewidths=1.0)
    for line in lines:
        ax.plot(*(1e3 * line), color="white", lw=0.7, alpha=0.8)
    ax.set(xlabel=_ACROSS[plane], ylabel="height over the top plate (mm)", xlim=u[[0, -1]], ylim=z[[0, -1]])
    ax.set_aspect("equal")
    ax.grid(False)
    fig = ax.get_figure(root=True)
    assert fig is not None
    bar = fig.colorbar(filled, ax=ax, shrink=0.7)
    bar.ax.yaxis.set_major_formatter(FuncFormatter(lambda t, _: f"{t * 1e3:g}"))
    bar.set_label("flux density |B| (mT; 1 mT = 10 G)")
