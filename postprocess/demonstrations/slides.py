"""Slides: figures of 16:9 that are read from the last row, on white or on a dark ground."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import matplotlib
import numpy as np
from cycler import cycler
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from stringflux.geometry.arrays import Array

from .palette import DARK, DASHES, LIGHT, Palette
from .quantities import scale

if TYPE_CHECKING:
    from .moving import MovingPicture, Shape, Trace, View
    from .parts import Slide

__all__ = ["DARK", "LIGHT", "Palette", "chart", "drawn", "line", "trace_panel", "view_panel", "view_shapes"]

SIZE, DPI = (12.8, 7.2), 100
"""Inches and dots: 1280 × 720."""
TEXT, TITLE, UNDER = 13.0, 21.0, 14.0
"""Points; 13 are 18 dots."""
_TOP, _BOTTOM = 0.855, 0.015  # of the height: what the title leaves


@contextmanager
def slide_style(palette: Palette) -> Iterator[None]:
    """Inside, new axes and texts take the slides' sizes and a palette's colours; text in SVG stays text."""
    settings: dict[Any, Any] = {
        "font.family": "sans-serif", "font.sans-serif": ["DejaVu Sans"], "font.size": TEXT, "svg.fonttype": "none",
        "axes.titlesize": TEXT + 1, "axes.titleweight": "bold", "axes.titlelocation": "left",
        "axes.labelsize": TEXT, "xtick.labelsize": TEXT, "ytick.labelsize": TEXT, "legend.fontsize": TEXT,
        "axes.labelcolor": palette.ink, "axes.edgecolor": palette.soft, "text.color": palette.ink,
        "xtick.color": palette.soft, "ytick.color": palette.soft, "xtick.labelcolor": palette.ink,
        "ytick.labelcolor": palette.ink, "axes.spines.top": False, "axes.spines.right": False, "axes.grid": True,
        "axes.axisbelow": True, "grid.color": palette.faint, "grid.linewidth": 1.0, "lines.linewidth": 2.6,
        "lines.solid_capstyle": "round", "legend.frameon": False, "figure.facecolor": palette.ground,
        "axes.facecolor": palette.ground, "savefig.facecolor": palette.ground, "text.parse_math": False,
        "axes.prop_cycle": cycler(color=palette.curves),
    }
    with matplotlib.rc_context(settings):
        yield


def drawn(slide: Slide, palette: Palette) -> Figure:
    """A slide as a figure; what it draws has the room under the title."""
    with slide_style(palette):
        figure = Figure(figsize=SIZE, dpi=DPI, layout="constrained")
        figure.text(0.02, 0.975, slide.title, fontsize=TITLE, fontweight="bold", va="top")
        figure.text(0.02, 0.905, slide.under, fontsize=UNDER, color=palette.soft, va="top")
        engine = figure.get_layout_engine()
        assert engine is not None
        engine.set(rect=(0.01, _BOTTOM, 0.98, _TOP - _BOTTOM), w_pad=0.08, h_pad=0.08)  # type: ignore[call-arg]
        slide.draw(figure, palette)
        figure.draw_without_rendering()  # ticks take their style now, not when the file is written
    return figure


def line(ax: Axes, x: Array, y: Array, palette: Palette, number: int = 0, label: str = "", **more: Any) -> None:
    """One curve, the `number`-th of its panel: colour, and dashes that tell it in grey."""
    dashes = DASHES[number % len(DASHES)]
    if dashes:
        more["dashes"] = dashes
    ax.plot(x, y, color=palette.curves[number % len(palette.curves)], label=label or None, **more)


def chart(ax: Axes, x: Array, ys: Sequence[tuple[str, Array]], palette: Palette, *, x_name: str, y_name: str,
          title: str = "") -> Axes:
    """Curves (name, values) over x, both in shown units, with a legend for more than one."""
    for number, (name, y) in enumerate(ys):
        line(ax, x, y, palette, number, name)
    ax.set(xlabel=x_name, ylabel=y_name)
    if title:
        ax.set_title(title)
    if len(ys) > 1:
        ax.legend()
    return ax


def trace_panel(ax: Axes, moving: MovingPicture, trace: Trace, palette: Palette, *, time_unit: str = "") -> Axes:
    """A trace over time on axes, in shown units."""
    unit = time_unit or time_unit_of(moving)
    t, k = moving.time * scale(unit), scale(trace.unit)
    for number, curve in enumerate(trace.curves):
        line(ax, t, curve.values * k, palette, number, curve.name if len(trace.curves) > 1 else "",
             lw=1.6 if curve.quiet else 2.6)
    if trace.areas:
        ax.fill_between(t, 0, trace.curves[0].values * k, color=palette.curves[0], alpha=0.2, lw=0)
    ax.set(xlabel=f"time ({unit})", ylabel=f"{trace.name} ({trace.unit})" if trace.unit else trace.name,
           xlim=(t[0], t[-1]))
    if len(trace.curves) > 1:
        ax.legend(loc="upper right")
    return ax


def time_unit_of(moving: MovingPicture) -> str:
    """"ms" for a picture of less than two seconds, else "s"."""
    return "ms" if moving.time[-1] - moving.time[0] < 2 else "s"


def view_panel(ax: Axes, view: View, palette: Palette, k: int = 0) -> Axes:
    """A view to scale at one time, in mm."""
    view_shapes(ax, view, palette, k)
    u0, u1, z0, z1 = (1e3 * edge for edge in view.window)
    ax.set(xlim=(u0, u1), ylim=(z0, z1), xlabel="mm")
    ax.set_aspect("equal")
    ax.grid(False)
    if view.title:
        ax.set_title(view.title)
    return ax


def view_shapes(ax: Axes, view: View, palette: Palette, k: int) -> None:
    """What is seen of a view at one time, on axes in mm."""
    for shape in view.shapes:
        _shape(ax, shape, palette, k)
    if view.phase is not None and view.lines:
        away = np.zeros((2, 1)) if view.carried is None else np.array([[view.carried.u[k]], [view.carried.z[k]]])
        paths = [1e3 * (line + away) for line in view.lines[int(view.phase[k])]]
        ax.add_collection(LineCollection([p.T for p in paths], colors=palette.lines, linewidths=1.1, zorder=3),
                          autolim=False)
        if view.arrows:
            size = 0.022e3 * max(view.window[1] - view.window[0], view.window[3] - view.window[2])
            ax.add_collection(PolyCollection([_head(p, size) for p in paths if p.shape[1] > 4], zorder=3,
                                             facecolors=palette.lines, edgecolors="none"), autolim=False)


def placed(shape: Shape, k: int) -> Array:
    """The outline (2, n) of a shape at the k-th time, m."""
    outline, motion = shape.outline, shape.motion
    if motion is None:
        return outline
    if motion.turned[k]:
        c, s, about = np.cos(motion.turned[k]), np.sin(motion.turned[k]), np.array(motion.about)[:, None]
        outline = np.array([[c, -s], [s, c]]) @ (outline - about) + about
    return np.asarray(outline + np.array([[motion.u[k]], [motion.z[k]]]))


def _shape(ax: Axes, shape: Shape, palette: Palette, k: int) -> None:
    outline, colour = placed(shape, k), palette.fills[shape.role]
    if shape.filled:
        ax.add_patch(Polygon(1e3 * outline.T, closed=True, facecolor=colour, edgecolor=palette.ink, lw=1.0, zorder=2))
    else:
        ax.plot(*(1e3 * outline), color=colour, lw=3.0, zorder=4)
    if shape.label:
        at = np.array(shape.at) if shape.at is not None else outline.mean(axis=1)
        ax.annotate(shape.label, _point(at), ha="center", va="center", zorder=5,
                    bbox={"facecolor": palette.ground, "edgecolor": "none", "alpha": 0.75, "pad": 1.5})


def _head(path: Array, size: float) -> Array:
    """The head (3, 2) of an arrow in the middle of a line (2, n)."""
    middle = path.shape[1] // 2
    way = path[:, middle + 1] - path[:, middle - 1]
    way = way / (np.hypot(*way) or 1.0)
    tip, aside = path[:, middle] + size / 2 * way, 0.4 * size * np.array([-way[1], way[0]])
    return np.array([tip, tip - size * way + aside, tip - size * way - aside])


def _point(at: Array) -> tuple[float, float]:
    return 1e3 * float(at[0]), 1e3 * float(at[1])
