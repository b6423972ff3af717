"""Figures of a body's shape: before and after from the side and from its end, and what every string gives."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from stringflux.geometry.arrays import Array

from ..figures.style import INK, SOFT, heading, house_style, new_figure, room_for_heading
from .shape import styled

_NARROW = 4.7  # inches: text of 8 points is read on a phone too
_LETTERS, _SMALL = 42, 66  # of a title and of what stands under it, in that


@dataclass(frozen=True, kw_only=True, eq=False)
class BodyLook:
    """What is drawn of one shape of a body.

    Attributes
    ----------
    name : str
    side, end : tuple of arrays (k, 2)
        Rims of what is seen of it across the strings (y, z) and along them (x, z), m.
    strings : array (4, n)
        Of every string its place across and the height of its underside over the top plate, m, its level at equal
        pluck force from the mean of all, dB, and S, V·s/m.
    """

    name: str
    side: tuple[Array, ...]
    end: tuple[Array, ...]
    strings: Array


def body_figure(looks: Sequence[BodyLook], title: str, under: str) -> Figure:
    """The body from the side and from its end, and the strings' levels."""
    with house_style():
        fig = new_figure(_NARROW, 5.6)
        grid = fig.add_gridspec(2, 2, width_ratios=(1.0, 2.0))
        side(fig.add_subplot(grid[0, :]), looks)
        end(fig.add_subplot(grid[1, 0]), looks)
        outputs(fig.add_subplot(grid[1, 1]), looks)
        titles, told = textwrap.wrap(title, _LETTERS), textwrap.wrap(under, _SMALL)
        heading(fig, "\n".join(titles), "\n".join(told))
        room_for_heading(fig, len(titles) + len(told) - 1)
        return fig


def side(ax: Axes, looks: Sequence[BodyLook]) -> None:
    """Its upper part across the strings, drawn higher than it is, and the undersides of the strings."""
    for look, style in styled(looks):
        _rims(ax, look.side, style)
    y, under = looks[0].strings[:2]
    ax.plot(1e3 * y, 1e3 * under, ls="", marker="o", ms=4, color=INK)
    for number, (at, low) in enumerate(zip(1e3 * y, 1e3 * under, strict=True), start=1):
        ax.annotate(str(number), (at, low), (0, 5), textcoords="offset points", ha="center", fontsize=8.5, color=SOFT)
    tops = [_upper_edge(rim) for look in looks for rim in look.side]
    high, low = max(t.max() for t in tops), min(t.min() for t in tops)
    room = max(high - low, 0.5)
    top = max(1e3 * under.max(), high)
    ax.set(xlabel="y, mm", ylabel="z, mm", title="Side, heights drawn larger",
           ylim=(low - room, top + 0.25 * (top - low + room)))
    ax.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=2)  # over a string's number elsewhere


def end(ax: Axes, looks: Sequence[BodyLook]) -> None:
    """Along the strings, to scale."""
    for look, style in styled(looks):
        _rims(ax, look.end, style)
    ax.set(xlabel="x, mm", ylabel="z, mm", title="End", aspect="equal", adjustable="datalim")
    ax.xaxis.set_major_locator(MaxNLocator(3))


def outputs(ax: Axes, looks: Sequence[BodyLook]) -> None:
    """Level of every string at equal pluck force, from the mean; S of a single one."""
    if looks[0].strings.shape[1] == 1:
        for place, (look, style) in enumerate(styled(looks)):
            ax.bar(place, 1e3 * look.strings[3, 0], width=0.5, color=style["color"])
        ax.set(ylabel="S, mV per m/s", title="Output", xticks=range(len(looks)))
        ax.set_xticklabels([look.name for look in looks])
        return
    number = np.arange(1, looks[0].strings.shape[1] + 1)
    for (look, style), marker in zip(styled(looks), "os", strict=False):
        ax.plot(number, look.strings[2], marker=marker, ms=4.5, **style)
    ax.axhline(0.0, color=SOFT, lw=0.8, ls=":")
    ax.set(xlabel="string", ylabel="level from the mean, dB", title="Strings at equal pluck force", xticks=number)


def _rims(ax: Axes, rims: Sequence[Array], style: dict[str, Any]) -> None:
    for k, rim in enumerate(rims):
        closed = 1e3 * np.concatenate([rim, rim[:1]])
        ax.plot(*closed.T, **(style if k == 0 else {**style, "label": None}))


def _upper_edge(rim: Array) -> Array:
    """Heights of the corners in the upper half of a rim, mm."""
    z = 1e3 * rim[:, 1]
    return np.asarray(z[z > (z.min() + z.max()) / 2])
