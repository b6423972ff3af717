"""Figures of a mix: what wiring makes of the voltage, the strings' levels, and the partials that are left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import shorten

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from stringflux.geometry.arrays import Array
from stringflux.geometry.notes import pitch_words

from ..mix.network import Mix
from .impedance import HIGH, LOW, frequency_axis
from .numbered import number_lines
from .style import WIDTH, heading, house_style, new_figure, room_for_heading, string_colours

PARTIALS, TITLE = 24, 70  # shown; letters
FLOOR = -40.0  # dB, under which partials are not told apart
_MARKERS = "os^Dvphx"
_DASHES = ("-", "--", "-.", ":")


@dataclass(frozen=True, kw_only=True, eq=False)
class MixCurves:
    """One selection as the figure shows it.

    Attributes
    ----------
    name : str
    mix : Mix
    opposed : bool
        The same network as another selection, with leads exchanged: it has no response curve of its own.
    levels : array (strings,)
        V rms.
    partials : tuple of (array, array)
        For every string frequencies, Hz, and V rms.
    """

    name: str
    mix: Mix
    opposed: bool
    levels: Array
    partials: tuple[tuple[Array, Array], ...]


def mix_figure(curves: Sequence[MixCurves], pitches: Sequence[float], title: str, said: str) -> Figure:
    """Draw response, levels by string, and partials of the lowest string.

    Parameters
    ----------
    pitches : sequence of float
        Of the strings, Hz.
    title : str
        Cut where it would not fit.
    said : str
        How the strings are plucked, for the line under the title.
    """
    with house_style():
        fig = new_figure(WIDTH, 9.4)
        response, levels, partials = fig.subplots(3, 1, height_ratios=(1.35, 1.0, 1.2))
        responses(response, curves)
        string_levels(levels, curves, pitches)
        partials_of(partials, curves, int(np.argmin(pitches)), pitches)
        handles, labels = levels.get_legend_handles_labels()
        fig.legend(handles, labels, loc="outside lower center", ncols=len(curves) if len(curves) < 5 else 3)
        heading(fig, shorten(title, TITLE, placeholder=" …"), f"Pickups mixed; strings {said}")
        room_for_heading(fig)
    return fig


def responses(ax: Axes, curves: Sequence[MixCurves]) -> None:
    """What the wiring makes of the same EMF in every coil."""
    f = np.geomspace(LOW, HIGH, 500)
    ax.set_title("At the amplifier, for the same voltage in every coil")
    tops, lines = [], {}
    for i, (curve, colour) in enumerate(zip(curves, string_colours(len(curves)), strict=True)):
        if curve.opposed:
            continue
        with np.errstate(divide="ignore"):
            level = 20 * np.log10(np.abs(curve.mix.together(f)))
        lines[str(i + 1)], = ax.plot(f, level, color=colour, ls=_DASHES[i % len(_DASHES)], label=curve.name)
        tops.append(float(level.max()))
    highest = max([t for t in tops if np.isfinite(t)], default=0.0)
    top = 3.0 * np.ceil((highest + 1.5) / 3.0)
    ax.set(ylabel="output over EMF (dB)", ylim=(top - 36.0, top))
    ax.set_yticks(np.arange(top - 36.0, top + 0.1, 6.0))
    frequency_axis(ax)
    number_lines(ax, list(lines.values()), list(lines))


def string_levels(ax: Axes, curves: Sequence[MixCurves], pitches: Sequence[float]) -> None:
    """Rms voltage of every string."""
    ax.set_title("Strings, over the first half second")
    numbers = np.arange(1, len(pitches) + 1)
    lines = []
    for i, (curve, colour) in enumerate(zip(curves, string_colours(len(curves)), strict=True)):
        shown = np.where(curve.levels > 0, 1e3 * curve.levels, np.nan)  # a shut volume has no place on a logarithm
        lines += ax.plot(numbers, shown, color=colour, marker=_MARKERS[i % len(_MARKERS)], ms=5,
                ls=_DASHES[i % len(_DASHES)], lw=1.0, label=f"{i + 1}  {curve.name}")
    ax.set(ylabel="rms voltage (mV)", xlabel="string", ylim=(0.0, None))
    number_lines(ax, lines, [str(i) for i in range(1, len(lines) + 1)])
    ax.set_xticks(numbers, [f"{n}\n{pitch_words(p)}" for n, p in zip(numbers, pitches, strict=True)])


def partials_of(ax: Axes, curves: Sequence[MixCurves], string: int, pitches: Sequence[float]) -> None:
    """Partials of a string (from 0)."""
    ax.set_title(f"Partials of string {string + 1}, {pitch_words(pitches[string])}, just after the pluck")
    strongest, drawn = max(float(c.partials[string][1].max()) for c in curves), []
    for i, (curve, colour) in enumerate(zip(curves, string_colours(len(curves)), strict=True)):
        lines = curve.partials[string][1][:PARTIALS]
        with np.errstate(divide="ignore", invalid="ignore"):
            level = np.maximum(20 * np.log10(lines / strongest), FLOOR)
        drawn += ax.plot(np.arange(1, lines.size + 1), level, color=colour, marker=_MARKERS[i % len(_MARKERS)], ms=4,
                ls=_DASHES[i % len(_DASHES)], lw=0.8, label=curve.name)
    ax.set(xlabel="partial", ylabel="under the strongest (dB)", ylim=(FLOOR - 1, 2), xlim=(0.5, PARTIALS + 0.5))
    ax.xaxis.set_major_locator(MaxNLocator(integer=True, nbins=12))
    number_lines(ax, drawn, [str(i) for i in range(1, len(drawn) + 1)])
