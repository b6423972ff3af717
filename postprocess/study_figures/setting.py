"""A setting in one picture: how far every string was off and is now, and what was moved within which limits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from stringflux.geometry.arrays import Array

from ..figures.style import ACCENT, FAINT, GOOD, INK, SOFT, heading, new_figure, room_for_heading

_BEFORE = "#b9c6d3"


@dataclass(frozen=True, kw_only=True)
class Move:
    """One thing that is set.

    Attributes
    ----------
    name : str
        "pole 3", "bass side".
    movement : float
        Towards the strings, m.
    low, high : float
        How far it may go, m.
    """

    name: str
    movement: float
    low: float
    high: float


def setting_figure(title: str, under: str, strings: Sequence[str], before: Array, after: Array,
                   moves: Sequence[Move], held: Sequence[int] = ()) -> Figure:
    """Bars per string before and after, and the movements in their limits.

    Parameters
    ----------
    title, under : str
        Heading, and the quieter line below it.
    strings : sequence of str
        What stands under each string's bars.
    before, after : arrays (n,)
        How far each string is over what is wanted, dB.
    moves : sequence of Move
    held : sequence of int
        Numbers (from 1) of strings that a limit holds back.
    """
    fig = new_figure(max(6.2, 1.9 + 0.75 * max(len(strings), len(moves))), 6.4)
    top, below = fig.subplots(2, 1, height_ratios=(1.15, 1.0))
    levels(top, strings, before, after, held)
    movements(below, moves)
    heading(fig, title, under)
    room_for_heading(fig)
    return fig


def levels(ax: Axes, strings: Sequence[str], before: Array, after: Array, held: Sequence[int] = ()) -> None:
    """How far every string was off, and is now; arguments as of :func:`setting_figure`."""
    x = np.arange(len(strings))
    ax.grid(False, axis="x")
    ax.bar(x - 0.19, before, width=0.34, color=_BEFORE, label="before")
    colours = [ACCENT if i + 1 in held else GOOD for i in range(len(strings))]
    ax.bar(x + 0.19, after, width=0.34, color=colours, label="_after")
    ax.axhline(0.0, color=INK, lw=0.9)
    reach = max(0.5, 1.25 * float(np.max(np.abs([before, after]))))
    for i, (b, a) in enumerate(zip(before, after, strict=True)):
        for place, value, colour in ((i - 0.19, b, SOFT), (i + 0.19, a, INK)):
            side = 1 if value >= 0 else -1
            ax.text(place, value + 0.02 * side * reach, _signed(value), ha="center",
                    va="bottom" if side > 0 else "top", fontsize=7.5, color=colour)
    ax.set(ylim=(-reach, reach), xlim=(-0.6, len(strings) - 0.4), ylabel="over what is wanted (dB)")
    ax.set_xticks(x, strings)
    ax.tick_params(axis="x", length=0)
    ax.set_title("Level of each string")
    marks = [("before", _BEFORE)]
    if len(held) < len(strings):
        marks.append(("after", GOOD))
    if held:
        marks.append(("after, held by a limit", ACCENT))
    for name, colour in marks[1:]:
        ax.bar([np.nan], [np.nan], color=colour, label=name)
    ax.legend(ncols=len(marks), loc="lower right", bbox_to_anchor=(1.0, 1.0), borderaxespad=0.1)


def movements(ax: Axes, moves: Sequence[Move]) -> None:
    """What is moved, and how far it may go from there."""
    ax.grid(False, axis="x")
    ends = [1e3 * v for m in moves for v in (m.low, m.high, m.movement)]
    for i, move in enumerate(moves):
        low, high, now = 1e3 * move.low, 1e3 * move.high, 1e3 * move.movement
        ax.bar(i, high - low, bottom=low, width=0.3, color=FAINT, zorder=1)
        ax.plot([i, i], [0.0, now], color=GOOD, lw=2.2, zorder=2)
        ax.plot(i, now, "o", color=GOOD, ms=6.5, zorder=3)
        ax.text(i + 0.22, now, f"{now:+.2f}".replace("-", "−"), va="center", ha="left", fontsize=8)
    ax.axhline(0.0, color=INK, lw=0.9)
    room = 0.12 * max(max(ends) - min(ends), 0.5)
    ax.set(xlim=(-0.6, len(moves) - 0.2), ylim=(min(ends) - room, max(ends) + room),
           ylabel="towards the strings (mm)")
    ax.set_xticks(range(len(moves)), [m.name.replace(" ", "\n", 1) for m in moves])
    ax.tick_params(axis="x", length=0)
    ax.set_title("What is moved, and how far it may go")


def _signed(value: float) -> str:
    places = 2 if abs(value) < 0.995 else 1
    text = f"{value:+.{places}f}".replace("-", "−")
    return "0" if math.isclose(float(f"{value:.{places}f}"), 0.0) else text
