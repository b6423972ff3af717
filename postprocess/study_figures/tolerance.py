"""How a pickup scatters from one to the next: the spread of each quantity, and the causes that matter most in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from stringflux.geometry.arrays import Array

from ..figures.style import ACCENT, BAR, FAINT, INK, SOFT, WIDTH, heading, house_style, new_figure, room_for_heading

_MOST = 5  # causes in a row of bars
_LONGEST = 25  # letters of a cause on one line
_TINY = 0.005  # of the variance: what has less is not drawn
_CAUSES, _SHARE = "Causes: dark alone, pale in all", "share of the variance, with 95 % interval"


@dataclass(frozen=True, kw_only=True)
class CauseBar:
    """A cause's share of a variance.

    Attributes
    ----------
    title : str
    total : float
        Sobol's total index.
    low, high : float
        Ends of its interval.
    first : float
        Sobol's first index.
    """

    title: str
    total: float
    low: float
    high: float
    first: float


@dataclass(frozen=True, kw_only=True, eq=False)
class ScatterRow:
    """A quantity of the figure.

    Attributes
    ----------
    title, unit : str
    values : array
        A sample (n,), in `unit`.
    nominal : float
        In the case as it stands.
    low, high : float
        Quantiles of 5 and 95 %.
    limits : tuple of float
        Ends of stated limits.
    causes : sequence of CauseBar
    """

    title: str
    unit: str
    values: Array
    nominal: float
    low: float
    high: float
    limits: tuple[float, ...] = ()
    causes: Sequence[CauseBar] = ()


def tolerance_figure(rows: Sequence[ScatterRow], title: str = "") -> Figure:
    """A row for each quantity: its spread at the left, the causes of it at the right.

    At the left the bar below goes from 5 to 95 %; the dotted line is the case as it stands, coloured ones are limits.
    """
    with house_style():
        fig = new_figure(WIDTH, 1.5 + 1.62 * len(rows))
        axes = fig.subplots(len(rows), 2, squeeze=False, width_ratios=(1.0, 1.05))
        for (left, right), row in zip(axes, rows, strict=True):
            spread(left, row)
            _bars(right, row)
            right.tick_params(axis="x", labelbottom=right is axes[-1, 1])
        axes[0, 1].set_title(_CAUSES)
        axes[-1, 1].set_xlabel(_SHARE)
        fig.legend(handles=_legend(any(row.limits for row in rows)), loc="outside lower center", ncols=3)
        heading(fig, "Scatter from pickup to pickup", title)
        room_for_heading(fig)
    return fig


def _legend(limits: bool) -> list[Artist]:
    """What is drawn in a spread and in the bars of its causes."""
    return [
        Patch(fc=FAINT, ec=SOFT, lw=0.6, label="pickups that were made"),
        Line2D([], [], color=INK, lw=3.0, solid_capstyle="butt", label="from 5 to 95 %"),
        Line2D([], [], color=INK, lw=1.0, ls=":", label="the case as it stands"),
        *([Line2D([], [], color=ACCENT, lw=1.2, label="limits asked for")] if limits else []),
        Patch(fc=BAR, label="a cause with all it does together with others"),
        Patch(fc=INK, label="a cause alone"),
        Line2D([], [], color=ACCENT, lw=1.2, marker="|", ms=6, label="95 % interval"),
    ]


def spread(ax: Axes, row: ScatterRow) -> None:
    """A sample; the bar from 5 to 95 %, the case as it stands dotted, limits coloured."""
    ax.set_title(row.title)
    ax.set_xlabel(row.unit)
    ax.set_yticks([])
    ax.grid(False)
    if np.ptp(row.values) <= 1e-9 * abs(row.nominal):
        ax.axvline(row.nominal, color=INK)
        ax.text(0.5, 0.5, "nothing scatters it", transform=ax.transAxes, ha="center", color=SOFT)
        return
    ax.hist(row.values, bins=60, color=FAINT, histtype="stepfilled", ec=SOFT, lw=0.6)
    top = ax.get_ylim()[1]
    ax.plot([row.low, row.high], [0.06 * top] * 2, color=INK, lw=3.0, solid_capstyle="butt")
    ax.plot([row.nominal] * 2, [0, top], color=INK, lw=1.0, ls=":")
    for end in row.limits:
        ax.axvline(end, color=ACCENT, lw=1.2)


def _broken(title: str) -> str:
    """A long name of a cause on two lines, so that the bars have room."""
    return title.replace(", ", ",\n", 1) if len(title) > _LONGEST else title


def causes(ax: Axes, row: ScatterRow) -> None:
    """The largest shares of its variance: dark alone, pale in all."""
    _bars(ax, row)
    ax.set(title=_CAUSES, xlabel=_SHARE)


def _bars(ax: Axes, row: ScatterRow) -> None:
    shown = [c for c in sorted(row.causes, key=lambda c: -c.total) if c.total > _TINY][:_MOST]
    y = _MOST - 1.0 - np.arange(len(shown))
    total = np.array([c.total for c in shown])
    ax.barh(y, total, height=0.62, color=BAR)
    ax.barh(y, np.clip([c.first for c in shown], 0.0, None), height=0.2, color=INK)
    if shown:
        spans = np.abs(np.array([(c.low, c.high) for c in shown]).T - total)
        ax.errorbar(total, y, xerr=spans, fmt="none", ecolor=ACCENT, elinewidth=1.2, capsize=3)
    ax.set_yticks(y, [_broken(c.title) for c in shown], linespacing=0.9)
    ax.set(xlim=(0, 1.1), ylim=(-0.6, _MOST - 0.4))
    ax.grid(axis="y", visible=False)
    ax.tick_params(axis="y", length=0)
