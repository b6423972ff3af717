"""The pickup's impedance, and what its controls and its cable make of the strings' voltage."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

from stringflux.geometry.arrays import Array

from ..coil.circuit import CoilCircuit
from ..coil.controls import LoadedCoil, Network
from .numbered import number_lines
from .style import ACCENT, INK, SOFT, WIDTH, heading, house_style, new_figure, room_for_heading, string_colours

LOW, HIGH = 20.0, 20e3
_TICKS = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)


def impedance_figure(circuit: CoilCircuit, settings: Mapping[str, Network], title: str = "") -> Figure:
    """|Z| and phase of the coil alone, and the loaded response for several settings.

    Parameters
    ----------
    circuit : CoilCircuit
    settings : mapping of str to Network
        What to call each setting, and its network.
    """
    with house_style():
        fig = new_figure(WIDTH, 8.6)
        top, middle, low = fig.subplots(3, 1, sharex=True, height_ratios=(1.25, 0.8, 1.5))
        magnitude(top, circuit)
        phase(middle, circuit)
        loaded(low, circuit, settings)
        for ax in (top, middle):
            ax.set_xlabel("")
        heading(fig, "Impedance and loaded response", title)
        room_for_heading(fig)
    return fig


def frequency_axis(ax: Axes) -> None:
    """From 20 Hz to 20 kHz on a logarithm, as people say it."""
    ax.set(xscale="log", xlim=(LOW, HIGH), xlabel="frequency (Hz)")
    ax.xaxis.set_major_locator(FixedLocator(_TICKS))
    ax.xaxis.set_minor_locator(NullLocator())
    ax.xaxis.set_major_formatter(FuncFormatter(lambda x, _: f"{x / 1e3:g}k" if x >= 1000 else f"{x:g}"))


def _band() -> Array:
    return np.geomspace(LOW, HIGH, 500)


def magnitude(ax: Axes, circuit: CoilCircuit) -> None:
    """|Z| of the coil alone, its resonance named."""
    f = _band()
    z = np.abs(circuit.impedance(f))
    ax.plot(f, z / 1e3, color=INK)
    frequency_axis(ax)
    ax.set(yscale="log", ylabel="|Z| of the coil alone (kΩ)")
    ax.set_ylim(z.min() / 1e3 / 1.5, z.max() / 1e3 * 2.5)
    ax.yaxis.set_major_formatter(FuncFormatter(lambda y, _: f"{y:g}"))
    top = circuit.resonance()
    if top is None or not LOW < top.frequency < HIGH:
        return
    ax.plot(top.frequency, top.magnitude / 1e3, "o", color=ACCENT, ms=5)
    ax.annotate(f"{top.frequency / 1e3:.3g} kHz, {top.magnitude / 1e3:.0f} kΩ, Q {top.quality:.1f}",
                (top.frequency, top.magnitude / 1e3), xytext=(-8, 4), textcoords="offset points", ha="right",
                color=ACCENT, fontsize=8.5)


def phase(ax: Axes, circuit: CoilCircuit) -> None:
    """The phase of Z."""
    f = _band()
    ax.plot(f, np.degrees(np.angle(circuit.impedance(f))), color=INK)
    ax.set(ylabel="phase of Z (°)", ylim=(-95, 95), yticks=(-90, -45, 0, 45, 90))
    ax.axhline(0.0, color=SOFT, lw=0.7)
    frequency_axis(ax)


def loaded(ax: Axes, circuit: CoilCircuit, settings: Mapping[str, Network]) -> None:
    """What reaches the amplifier of the same EMF, by setting of the controls."""
    f = _band()
    ax.set_title("At the amplifier")
    curves = {name: _level(LoadedCoil(coil=circuit, network=hung), f) for name, hung in settings.items()}
    lines = [ax.plot(f, level, color=colour, label=f"{i}  {name}")[0] for i, ((name, level), colour) in
             enumerate(zip(curves.items(), string_colours(len(curves)), strict=True), start=1)]
    bare = _level(LoadedCoil(coil=circuit), f)
    ax.plot(f, bare, color=SOFT, ls="--", lw=1.0, label="nothing connected")
    seen = [level[np.isfinite(level)] for level in curves.values()]
    highest = max([float(s.max()) for s in seen if s.size], default=0.0)
    top = 3.0 * np.ceil((highest + 1.5) / 3.0)
    ax.set(ylabel="output over EMF (dB)", ylim=(top - 36.0, top))
    ax.set_yticks(np.arange(top - 36.0, top + 0.1, 6.0))
    ax.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=3, borderaxespad=0.2, columnspacing=1.4)
    frequency_axis(ax)
    number_lines(ax, lines, [str(i) for i in range(1, len(lines) + 1)])


def _level(coil: LoadedCoil, f: Array) -> Array:
    with np.errstate(divide="ignore"):
        return np.asarray(20 * np.log10(np.abs(coil(f))))
