"""Figures of plucked strings: the voltage, its spectrum with the comb of the pickup's place, and its distortion."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.ticker import FixedFormatter, FixedLocator, NullFormatter

from stringflux.geometry.arrays import Array
from stringflux.geometry.notes import pitch_words

from ..plucked.sensed import PlayedString, SensedString
from ..plucked.signal import spectrum
from .numbered import number_lines
from .style import ACCENT, SOFT, heading, heading_height, house_style, new_figure, room_for_heading, string_colours

WIDTH, ROW, LOWEST = 7.6, 1.15, 2.0  # inches, a figure, one string in it, and all of them at least
SHOWN = 0.06  # s of voltage
TOP = 10e3  # Hz
FLOOR = -90.0  # dB under the strongest partial of all strings
SPECTRUM_OF = 2.0
"""s after the pluck, of which the spectrum is."""
_DOTTED = "dotted: nodes of the modes over the pickup"
_DASHED = "dashed: what the pluck's place leaves out"


def signal_figures(strings: Sequence[PlayedString], said: str, at: float | None = None) -> dict[str, Figure]:
    """Draw "waveform", "spectrum" and "distortion".

    Parameters
    ----------
    strings : sequence of PlayedString
    said : str
        How they were plucked, for the line under the title.
    at : float, optional
        Where they were plucked, as a part of the string; None for a sine.
    """
    with house_style():
        return {
            "waveform": _waveforms(strings, said),
            "spectrum": _spectra(strings, said, at),
            "distortion": _distortion(strings),
        }


def spectrum_words(strings: Sequence[PlayedString], at: float | None) -> str:
    """Which time span a spectrum is of, and what its lines are."""
    marks = [] if at is None else [*([] if all(s.string.cancels for s in strings) else [_DOTTED]), _DASHED]
    return "; ".join([f"the first {min(SPECTRUM_OF, strings[0].signal.time[-1]):.2g} s", *marks])


def waveform(ax: Axes, s: PlayedString, count: int) -> None:
    """The voltage of one of `count` strings just after the pluck."""
    _waveform(ax, s, string_colours(count)[s.number - 1], s.signal.peak)
    ax.set(title=_label(s), xlabel="time (ms)", ylabel="voltage (mV)")


def spectrum_panel(ax: Axes, s: PlayedString, count: int, at: float | None = None) -> None:
    """The spectrum of one of `count` strings; dotted: nodes of its modes over the pickup; dashed: at the pluck."""
    f, lines = _lines(s)
    _spectrum(ax, s, string_colours(count)[s.number - 1], f, lines / float(lines.max()), at)
    ax.set(title=_label(s), xlabel="frequency (Hz)", ylabel="level under the strongest partial (dB)")


def _waveforms(strings: Sequence[PlayedString], said: str) -> Figure:
    fig, axes = _stack(strings)
    loudest = max(s.signal.peak for s in strings)
    for ax, s, colour in zip(axes, strings, string_colours(len(strings)), strict=True):
        _waveform(ax, s, colour, loudest)
    return _finished(fig, axes, "Voltage of the strings", said, "time (ms)", "voltage (mV)")


def _lines(s: PlayedString) -> tuple[Array, Array]:
    return spectrum(s.signal.voltage[: round(SPECTRUM_OF * s.signal.rate)], s.signal.rate)


def _spectra(strings: Sequence[PlayedString], said: str, at: float | None) -> Figure:
    fig, axes = _stack(strings)
    spectra = [_lines(s) for s in strings]
    strongest = max(float(lines.max()) for _, lines in spectra)
    for ax, s, colour, (f, lines) in zip(axes, strings, string_colours(len(strings)), spectra, strict=True):
        _spectrum(ax, s, colour, f, lines / strongest, at)
    said = ";\n".join(part for part in (said, spectrum_words(strings, at)) if part)
    title = "Spectrum of the driven strings" if at is None else "Spectrum of the plucked strings"
    return _finished(fig, axes, title, said, "frequency (Hz)",
                     "level under the strongest partial (dB)")


def _stack(strings: Sequence[PlayedString]) -> tuple[Figure, list[Axes]]:
    fig = new_figure(WIDTH, 1.4 + max(ROW * len(strings), LOWEST))
    axes = list(fig.subplots(len(strings), 1, sharex=True, sharey=True, squeeze=False)[:, 0])
    for ax, s in zip(axes, strings, strict=True):
        ax.set_title(_label(s), fontsize=8.5, fontweight="normal", pad=2)
    return fig, axes


def _finished(fig: Figure, axes: Sequence[Axes], title: str, under: str, x: str, y: str) -> Figure:
    axes[-1].set_xlabel(x)
    lines = under.count("\n") + 1
    # in the middle of what the heading leaves: few strings make a figure hardly higher than the label is long
    fig.supylabel(y, fontsize=9, y=(1 - heading_height(lines) / fig.get_size_inches()[1]) / 2)
    heading(fig, title, under)
    room_for_heading(fig, lines)
    return fig


def _waveform(ax: Axes, s: PlayedString, colour: str, loudest: float) -> None:
    n = int(SHOWN * s.signal.rate)
    t = np.arange(min(n, s.signal.voltage.size)) / s.signal.rate
    ax.plot(1e3 * t, 1e3 * s.signal.voltage[: t.size], color=colour, lw=0.9)
    ax.set(xlim=(0, 1e3 * SHOWN), ylim=(-1.08e3 * loudest, 1.08e3 * loudest))


def _spectrum(ax: Axes, s: PlayedString, colour: str, f: Array, lines: Array, at: float | None) -> None:
    level = 20 * np.log10(np.maximum(lines, 1e-9))
    seen = (f > 20) & (f < TOP)
    ax.plot(f[seen], np.maximum(level, FLOOR)[seen], color=colour, lw=0.7)
    if at is not None:
        # out of phase the rows hear most where these are
        for coil in () if s.string.cancels else s.string.coils:
            for node in nodes(s.string, (s.string.bridge_distance - coil.middle) / s.string.string.length):
                ax.axvline(node, color=SOFT, lw=0.8, ls=":", zorder=0)
        for node in nodes(s.string, at):
            ax.axvline(node, color=ACCENT, lw=0.6, ls=(0, (6, 4)), zorder=0)
    ax.set(xscale="log", xlim=(30, TOP), ylim=(FLOOR, 5))
    _plain_ticks(ax.xaxis, (50, 100, 200, 500, 1000, 2000, 5000, 10000))


def nodes(string: SensedString, at: float | None = None) -> Array:
    """Frequencies (k,) below 10 kHz whose modes have a node at a part of the string, stiffness left in, Hz.

    The partial number there, m/at, is rarely a whole one. `at` left out: over the row.
    """
    s = string.string
    n = np.arange(1, 200) / (string.bridge_distance / s.length if at is None else at)
    B = s.inharmonicity
    f = n * s.pitch * np.sqrt((1 + B * n * n) / (1 + B))
    return np.asarray(f[f < TOP])


def _distortion(strings: Sequence[PlayedString]) -> Figure:
    fig = new_figure(WIDTH, 4.2)
    distortion_panel(fig.subplots(), strings)
    heading(fig, "Harmonics that the pickup adds", "solid: second, dashed: third, in the voltage of a sine swing")
    room_for_heading(fig)
    return fig


def distortion_panel(ax: Axes, strings: Sequence[PlayedString]) -> None:
    """Second harmonic (solid) and third (dashed) in the voltage over the swing of a sine."""
    lines = {}
    for s, colour in zip(strings, string_colours(len(strings)), strict=True):
        swings, H = s.string.distortion()
        if not swings.size:
            continue
        lines[str(s.number)], = ax.plot(1e3 * swings, 100 * H[0], color=colour, label=_label(s))
        ax.plot(1e3 * swings, 100 * H[1], color=colour, ls=(0, (4, 2)))
    ax.set(xscale="log", yscale="log", xlabel="swing up and down over the pickup, ± (mm)",
           ylabel="part of the first harmonic (%)", ylim=(0.01, 200))
    _plain_ticks(ax.xaxis, (0.05, 0.1, 0.2, 0.5, 1, 2))
    _plain_ticks(ax.yaxis, (0.01, 0.1, 1, 10, 100))
    if ax.lines:
        ax.legend(loc="lower right", ncols=2)
        number_lines(ax, list(lines.values()), list(lines))
    else:
        ax.set_xlim(0.05, 2)
        ax.text(0.5, 0.5, "The coils cancel each other for a string that moves as a whole:\nthere is no first "
                "harmonic to compare with.", transform=ax.transAxes, ha="center", va="center")


def _label(s: PlayedString) -> str:
    return f"{s.number}  {pitch_words(s.string.string.pitch)}"


def _plain_ticks(axis: Axis, ticks: Sequence[float]) -> None:
    """Numbers in place of powers of ten on a logarithmic axis."""
    axis.set_major_locator(FixedLocator(list(ticks)))
    axis.set_major_formatter(FixedFormatter([f"{t:g}" for t in ticks]))
    axis.set_minor_formatter(NullFormatter())
