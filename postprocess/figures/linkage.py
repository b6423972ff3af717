"""The string's part of the linkage against its displacement, and S against its place over the pole."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from scipy.interpolate import BarycentricInterpolator

from stringflux.geometry.arrays import Array

from ..records.prediction import StringRecord
from .numbered import number_lines
from .style import SOFT, heading, legible, new_figure, room_for_heading, string_colours, string_key

WIDTH, HEIGHT = 8.4, 6.6  # inches
_FINE = 81
_TANGENT = 1.1e-3  # half length of the drawn slope, m


def linkage_figure(strings: Sequence[StringRecord]) -> Figure:
    """λ up and down, λ sideways, S across the pole; the strings' S in the key.

    The maps must be there (`predict` with `maps=True`).
    """
    fig = new_figure(WIDTH, HEIGHT)
    axes = fig.subplots(2, 2)
    up_and_down(axes[0, 0], strings)
    sideways(axes[0, 1], strings)
    beside(axes[1, 0], strings)
    string_key(axes[1, 1], strings, string_colours(len(strings)), "S at rest (mV per m/s)",
               [f"{legible(1e3 * s.sensitivity)}   ({legible(1e3 * s.sensitivity_band[0])} to "
                f"{legible(1e3 * s.sensitivity_band[1])})" if s.heard else "0, not heard"
                for s in strings])
    axes[1, 1].text(0.02, 0.0, "● at rest    - - S, the slope of a light swing", fontsize=8, color=SOFT, va="bottom",
                    transform=axes[1, 1].transAxes)
    heading(fig, "Linkage of the strings with all turns",
            "what the string itself adds, its steel without memory; not the magnets' static flux")
    room_for_heading(fig)
    return fig


def up_and_down(ax: Axes, strings: Sequence[StringRecord]) -> None:
    """λ over the displacement up, with the slope at rest."""
    scale, unit = _shown(strings)
    lines = [_up(ax, s, colour, scale)
             for s, colour in zip(strings, string_colours(len(strings)), strict=True)]
    ax.set(title="Moving up and down", xlabel="displacement from rest, up positive (mm)",
           ylabel=f"linkage of the string λ ({unit})")
    _from_nought(ax, lines, strings)


def sideways(ax: Axes, strings: Sequence[StringRecord]) -> None:
    """λ over the displacement across."""
    scale, unit = _shown(strings)
    lines = [_sideways(ax, s, colour, scale)
             for s, colour in zip(strings, string_colours(len(strings)), strict=True)]
    ax.set(title="Moving sideways", xlabel="displacement from rest, across (mm)",
           ylabel=f"linkage of the string λ ({unit})")
    _from_nought(ax, lines, strings)


def beside(ax: Axes, strings: Sequence[StringRecord]) -> None:
    """S over the place across that the string stands at."""
    lines = [_across(ax, s, colour) for s, colour in zip(strings, string_colours(len(strings)), strict=True)]
    ax.set(title="Standing beside its place", xlabel="offset across (mm)", ylabel="sensitivity S (mV per m/s)")
    _from_nought(ax, lines, strings)


def _from_nought(ax: Axes, lines: Sequence[Line2D], strings: Sequence[StringRecord]) -> None:
    ax.margins(x=0.02)
    low, high = (1.06 * end for end in (min(ax.dataLim.y0, 0.0), max(ax.dataLim.y1, 0.0)))
    ax.set_ylim(low, high if high > low else 1.0)
    ax.axvline(0.0, color="#b9c0c7", lw=0.8, zorder=1)
    number_lines(ax, lines, [str(s.number) for s in strings])


def _shown(strings: Sequence[StringRecord]) -> tuple[float, str]:
    """What Wb are multiplied with, and the unit that comes of it."""
    biggest = max(float(np.abs(s.map_linkage).max()) for s in strings)
    return (1e6, "µWb") if biggest >= 1e-6 else (1e9, "nWb")


def _fine(nodes: Array, values: Array) -> tuple[Array, Array]:
    """The polynomial through a map's nodes, finely."""
    x = np.linspace(nodes[0], nodes[-1], _FINE)
    return x, np.asarray(BarycentricInterpolator(nodes, values)(x))


def _up(ax: Axes, s: StringRecord, colour: str, scale: float) -> Line2D:
    at_rest = BarycentricInterpolator(s.map_y, s.map_linkage, axis=0)(0.0)
    z, linkage = _fine(s.map_z, at_rest)
    line, = ax.plot(1e3 * z, scale * linkage, color=colour, label=f"string {s.number}")
    ends = np.array([max(-_TANGENT, float(z[0])), _TANGENT])
    slope = np.copysign(s.sensitivity, np.interp(0.0, z, np.gradient(linkage, z)))
    ax.plot(1e3 * ends, scale * (s.linkage + slope * ends), color=colour, lw=0.9, ls=(0, (4, 2)))
    ax.plot(0, scale * s.linkage, "o", color=colour, ms=4.5, mec="white", mew=0.8)
    return line


def _sideways(ax: Axes, s: StringRecord, colour: str, scale: float) -> Line2D:
    at_rest = BarycentricInterpolator(s.map_z, s.map_linkage, axis=1)(0.0)
    y, linkage = _fine(s.map_y, at_rest)
    line, = ax.plot(1e3 * y, scale * linkage, color=colour, label=f"string {s.number}")
    ax.plot(0, scale * s.linkage, "o", color=colour, ms=4.5, mec="white", mew=0.8)
    return line


def _across(ax: Axes, s: StringRecord, colour: str) -> Line2D:
    offset, S = _fine(s.offset, s.sensitivity_offset)
    line, = ax.plot(1e3 * offset, 1e3 * S, color=colour, label=f"string {s.number}")
    here = float(np.interp(0.0, s.map_y, s.offset))  # its own place over the pole
    ax.plot(1e3 * here, 1e3 * s.sensitivity, "o", color=colour, ms=4.5, mec="white", mew=0.8)
    return line
