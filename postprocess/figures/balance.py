"""Level meters: how evenly the strings come out, in dB against the loudest."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from stringflux.geometry.arrays import Array
from stringflux.geometry.notes import pitch_words

from ..records.prediction import StringRecord
from .style import ACCENT, BAR, FAINT, GOOD, INK, SOFT, gauge_name, heading, new_figure, room_for_heading

TITLES = {
    "balance": "At equal string velocity (by S)",
    "balance_force": "At equal pluck force",
    "balance_displacement": "At equal pluck distance",
}
"""What :func:`levels` draws, by the name of the record's field."""


def balance_figure(strings: Sequence[StringRecord]) -> Figure:
    """Three rows of bars on one dB scale, strongest and weakest in colour."""
    n = len(strings)
    fig = new_figure(max(5.6, 2.4 + 0.62 * n), 7.2)
    axes = fig.subplots(3, 1, sharex=True, sharey=True)
    for ax, name in zip(axes, TITLES, strict=True):
        levels(ax, name, strings)
    for ax in axes[:-1]:
        ax.set_xlabel("")
    for ax in axes[::2]:
        ax.set_ylabel("")
    under = (f"all bars stand on {axes[0].get_ylim()[0]:.0f} dB".replace("-", "−") +
             "; range marks in the upper row: doubt about the steel and the wrap")
    heading(fig, "Balance of the strings", under if n > 1 else "one string only: there is nothing to hold it against")
    room_for_heading(fig)
    return fig


def levels(ax: Axes, name: str, strings: Sequence[StringRecord]) -> None:
    """One of the balances, :data:`TITLES`; with the doubt about the steel where that is by S."""
    lowest = min((min(s.balance_band[0], s.balance, s.balance_force, s.balance_displacement)
                  for s in strings if s.heard), default=0.0)
    floor = min(-6.0, 3.0 * math.floor((1.17 * lowest - 1.0) / 3.0))
    bands = np.array([s.balance_band for s in strings]) if name == "balance" else None
    _meters(ax, np.array([getattr(s, name) for s in strings]), bands, floor)
    room = max(len(strings) / 2 + 0.1, 1.8)  # half the width, in strings
    middle = (len(strings) - 1) / 2
    # a bar's length says nothing by itself: where all of them begin is told beside them
    ax.set(title=TITLES[name], ylim=(floor, 0.0), xlim=(middle - room, middle + room),
           ylabel="level against the loudest string (dB)")
    ax.set_yticks(np.arange(0.0, floor - 0.01, -(3.0 if floor >= -18 else 6.0)))
    name_strings(ax, strings)


def name_strings(ax: Axes, strings: Sequence[StringRecord]) -> None:
    """Number, note and diameter under each string's bar."""
    ax.set_xticks(range(len(strings)), [f"{s.number}\n{pitch_words(s.pitch)}\n{gauge_name(s)}" for s in strings])
    ax.set_xlabel("string, note, diameter in mm (w: wound)")


def _meters(ax: Axes, values: Array, bands: Array | None, floor: float) -> None:
    x = np.arange(values.size)
    heard = np.isfinite(values)
    colours = [BAR] * values.size
    if np.sum(heard) > 1:
        colours[int(np.nanargmax(values))], colours[int(np.nanargmin(values))] = GOOD, ACCENT
    ax.grid(False)
    ax.bar(x, -floor, bottom=floor, width=0.62, color=FAINT, zorder=1)
    ax.bar(x, np.where(heard, values - floor, 0.0), bottom=floor, width=0.62, color=colours, zorder=2)
    if bands is not None and values.size > 1:
        low, high = np.minimum(bands[:, 0], values), np.minimum(np.maximum(bands[:, 1], values), 0.0)
        open_ = high - low > 0.05
        ax.errorbar(x[open_], values[open_], yerr=[(values - low)[open_], (high - values)[open_]], fmt="none",
                    ecolor=INK, elinewidth=1.1, capsize=3.5, capthick=1.1, zorder=4)
    for i, v in enumerate(values):
        label = "0.0" if v > -0.05 else f"−{-v:.1f}" if heard[i] else "not\nheard"
        ax.text(i, 0.95 * floor, label, ha="center", va="bottom", fontsize=8.5,
                color="white" if heard[i] else SOFT, fontweight="bold", zorder=5)
    ax.tick_params(axis="x", length=0)
    ax.spines["bottom"].set_color(SOFT)
