"""Level meters: how evenly the strings come out, in dB against the loudest."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from stringflux.geometry.arrays import Array
from stringflux.geometry.notes import pitch_words

from ..records.prediction import Prediction
from .style import ACCENT, FAINT, GOOD, INK, SOFT, gauge_name, heading, new_figure, room_for_heading

_BAR = "#7a94ad"
_TITLES = (
    ("At equal string velocity (by S)", "balance"),
    ("At equal pluck force", "balance_force"),
    ("At equal pluck displacement", "balance_displacement"),
)


def balance_figure(prediction: Prediction) -> Figure:
    """Three rows of bars on one dB scale, strongest and weakest in colour."""
    n = len(prediction.strings)
    fig = new_figure(max(5.6, 2.4 + 0.62 * n), 7.2)
    axes = fig.subplots(3, 1, sharex=True, sharey=True)
    lowest = min((min(s.balance_band[0], s.balance, s.balance_force, s.balance_displacement)
                  for s in prediction.strings if s.heard), default=0.0)
    floor = min(-6.0, 3.0 * math.floor((1.17 * lowest - 1.0) / 3.0))
    for ax, (title, key) in zip(axes, _TITLES, strict=True):
        values = np.array([getattr(s, key) for s in prediction.strings])
        bands = np.array([s.balance_band for s in prediction.strings]) if key == "balance" else None
        _meters(ax, values, bands, floor)
        ax.set_title(title)
    room = max(n / 2 + 0.1, 1.8)  # half the width, in strings
    axes[0].set(ylim=(floor, 0.0), xlim=((n - 1) / 2 - room, (n - 1) / 2 + room))
    step = 3.0 if floor >= -18 else 6.0
    axes[0].set_yticks(np.arange(0.0, floor - 0.01, -step))
    axes[1].set_ylabel("level against the loudest string (dB)")
    axes[2].set_xticks(range(n), [f"{s.number}\n{pitch_words(s.pitch)}\n{gauge_name(s)}"
                                  for s in prediction.strings])
    axes[2].set_xlabel("string, note, diameter in mm (w: wound)")
    under = "range marks in the upper row: doubt about the steel and the wrap"
    heading(fig, "Balance of the strings", under if n > 1 else "one string only: there is nothing to hold it against")
    room_for_heading(fig)
    return fig


def _meters(ax: Axes, values: Array, bands: Array | None, floor: float) -> None:
    x = np.arange(values.size)
    heard = np.isfinite(values)
    colours = [_BAR] * values.size
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
