"""How the figures look: sizes, colours, words for strings. Figures are objects, no backend is touched."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.contour import ContourSet
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

from stringflux.geometry.notes import pitch_words

from ..records.prediction import StringRecord

DPI = 150
WIDTH = 7.6  # inches, the width of a page of text

INK = "#1d2733"
SOFT = "#66717d"
FAINT = "#e4e7ea"
ACCENT = "#c8500a"
GOOD = "#00785a"
BAR = "#7a94ad"

# Colours of the colour-blind safe set of Okabe & Ito (2008), without its yellow, which white paper swallows.
_FEW = ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#56b4e9", "#e69f00", "#1d2733")

_RC: dict[Any, Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 9.0,
    "axes.titlesize": 9.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.labelsize": 9.0,
    "axes.labelcolor": INK,
    "axes.edgecolor": SOFT,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": FAINT,
    "grid.linewidth": 0.7,
    "xtick.labelsize": 8.5,
    "ytick.labelsize": 8.5,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "text.color": INK,
    "lines.linewidth": 1.5,
    "lines.solid_capstyle": "round",
    "legend.frameon": False,
    "legend.fontsize": 8.5,
    "figure.facecolor": "white",
    "hatch.linewidth": 0.6,
    "text.parse_math": False,  # a title or a material may have dollar signs in it
}



@contextmanager
def house_style() -> Iterator[None]:
    """Inside, new axes and texts take the house's sizes and colours; the caller's settings come back after."""
    with matplotlib.rc_context(_RC):
        yield


def new_figure(width: float, height: float, *, constrained: bool = True) -> Figure:
    """An empty figure, size in inches."""
    return Figure(figsize=(width, height), dpi=DPI, layout="constrained" if constrained else None)


def heading(fig: Figure, text: str, under: str = "") -> None:
    """Title of a figure in its upper left corner, of one line or several, with a quieter line under it."""
    size, more = fig.get_size_inches()[1], 0.19 * text.count("\n")
    fig.text(0.012, 1 - 0.09 / size, text, fontsize=11.5, fontweight="bold", va="top", ha="left")
    if under:
        fig.text(0.012, 1 - (0.33 + more) / size, under, fontsize=8.5, color=SOFT, va="top", ha="left")


def heading_height(lines: int = 1) -> float:
    """What a heading takes, inches."""
    return 0.45 + 0.15 * lines


def room_for_heading(fig: Figure, lines: int = 1) -> None:
    """Keep the constrained layout below the heading, which has so many lines under its title."""
    engine = fig.get_layout_engine()
    if engine is not None:
        top = heading_height(lines) / fig.get_size_inches()[1]
        engine.set(rect=(0.0, 0.0, 1.0, 1 - top), w_pad=0.06, h_pad=0.06)  # type: ignore[call-arg]


def string_colours(count: int) -> list[str]:
    """One colour per string: distinct ones for up to seven, an even ramp from dark to light for more."""
    if count <= len(_FEW):
        return list(_FEW[:count])
    ramp = matplotlib.colormaps["viridis"](np.linspace(0.0, 0.88, count))
    return [matplotlib.colors.to_hex(c) for c in ramp]


def gauge_name(string: StringRecord) -> str:
    """Outside diameter in mm, with a w for wound ones."""
    return f"{string.diameter * 1e3:.2f}" + (" w" if string.wound else "")


def string_key(ax: Axes, strings: Sequence[StringRecord], colours: Sequence[str], head: str = "",
               values: Sequence[str] = ()) -> None:
    """A table in place of a legend: line, number, note, diameter, and one value per string."""
    ax.set_axis_off()
    rows = len(strings)
    step = 1.0 / (max(rows, 6) + 2.2)
    columns = (0.16, 0.24, 0.40, 0.62)
    for x, text in zip(columns, ("", "string", "∅ mm", head), strict=True):
        ax.text(x, 1 - 0.5 * step, text, fontsize=8, color=SOFT, va="center", transform=ax.transAxes)
    for i, (s, colour) in enumerate(zip(strings, colours, strict=True)):
        y = 1 - (i + 1.7) * step
        ax.plot([0.02, 0.12], [y, y], color=colour, lw=2.2, transform=ax.transAxes, clip_on=False)
        cells = (str(s.number), pitch_words(s.pitch), gauge_name(s), values[i] if values else "")
        for x, text in zip(columns, cells, strict=True):
            ax.text(x, y, text, fontsize=8.5, va="center", transform=ax.transAxes)


def legible(value: float) -> str:
    """A number with three figures and no exponent between 0.01 and 100 000."""
    if value == 0:
        return "0"
    places = max(0, 2 - math.floor(math.log10(abs(value))))
    return f"{value:.{places}f}".replace("-", "−")


def sizes_bar(filled: ContourSet, beside: Axes, cax: Axes | None = None) -> None:
    """The scale of |B| (T) in mT: on `cax`, or in room that it takes `beside` axes."""
    low, high = filled.get_clim()
    fig = beside.get_figure(root=True)
    assert fig is not None
    bar = fig.colorbar(filled, cax=cax, ax=None if cax is not None else beside)
    ticks = (m * 10.0**e for e in range(-6, 2) for m in (1, 2, 5))
    bar.set_ticks([t for t in ticks if low <= t <= high], minor=False)
    bar.ax.yaxis.set_major_formatter(FuncFormatter(lambda t, _: f"{t * 1e3:g}"))
    bar.ax.minorticks_off()
    bar.set_label("flux density |B| (mT; 1 mT = 10 G)")
    bar.outline.set_visible(False)


def gauss_beside(ax: Axes) -> None:
    """A scale in gauss on the right of an axis in mT."""
    side = ax.secondary_yaxis("right", functions=(_to_gauss, _from_gauss))
    side.yaxis.set_major_formatter(FuncFormatter(lambda gauss, _: f"{gauss:g} G".replace("-", "−")))
    side.tick_params(length=0, colors=SOFT)
    side.spines["right"].set_visible(False)


def _to_gauss(milli: Any) -> Any:
    return np.multiply(milli, 10.0)


def _from_gauss(gauss: Any) -> Any:
    return np.divide(gauss, 10.0)
