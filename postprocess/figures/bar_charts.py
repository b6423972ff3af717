"""Bars over strings and poles: sensitivity with its doubt, and the field over the faces."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes

from stringflux.geometry.arrays import Array

from ..records.prediction import PoleRecord, StringRecord
from .balance import name_strings
from .style import BAR, INK, SOFT, gauss_beside, string_colours


def sensitivities(ax: Axes, strings: Sequence[StringRecord]) -> None:
    """S of every string; marks: doubt about the steel and the wrap."""
    S = 1e3 * np.array([s.sensitivity for s in strings])
    low, high = 1e3 * np.array([s.sensitivity_band for s in strings]).T
    _bars(ax, S, np.minimum(low, S), np.maximum(high, S))
    ax.set(title="Sensitivity of the strings", ylabel="S (mV per m/s)", ylim=(0, None))
    name_strings(ax, strings)


def faces(ax: Axes, poles: Sequence[PoleRecord], height: float) -> None:
    """Axial bias field `height` m over every pole's face; marks: doubt about the magnets' transverse permeability."""
    B = 1e3 * np.array([p.field for p in poles])
    low, high = 1e3 * np.array([sorted(p.field_band) if p.band_counts else (p.field, p.field) for p in poles]).T
    _bars(ax, B, low, high)
    ax.axhline(0.0, color=SOFT, lw=0.8)
    ax.set(title=f"Field {1e3 * height:g} mm over the poles' faces", xlabel="pole",
           ylabel="B, north up positive (mT)")
    ax.set_xticks(range(len(poles)), [str(p.number) for p in poles])
    gauss_beside(ax)


def groups(ax: Axes, columns: Mapping[str, Array], title: str, label: str) -> None:
    """Bars side by side for every string, one of each column (n,), in the unit that `label` ends in."""
    count = len(next(iter(columns.values())))
    width = 0.8 / len(columns)
    for i, ((name, values), colour) in enumerate(zip(columns.items(), string_colours(len(columns)), strict=True)):
        ax.bar(np.arange(count) + (i - (len(columns) - 1) / 2) * width, values, width=width, color=colour, label=name,
               zorder=2)
    ax.axhline(0.0, color=SOFT, lw=0.8)
    ax.grid(False, axis="x")
    ax.set(title=title, ylabel=label, xlabel="string")
    ax.set_xticks(range(count), [str(i + 1) for i in range(count)])
    ax.tick_params(axis="x", length=0)


def _bars(ax: Axes, values: Array, low: Array, high: Array) -> None:
    x = np.arange(values.size)
    ax.bar(x, values, width=0.62, color=BAR, zorder=2)
    told = high > low
    ax.errorbar(x[told], values[told], yerr=[(values - low)[told], (high - values)[told]], fmt="none", ecolor=INK,
                elinewidth=1.1, capsize=3.5, zorder=4)
    ax.set_xlim(-0.9, values.size - 0.1)
    ax.grid(False, axis="x")
    ax.tick_params(axis="x", length=0)
