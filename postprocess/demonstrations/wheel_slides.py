"""Slides of a wheel that turns past a sensor."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from stringflux.geometry.shapes.tooth_wheel import WheelBuild

from ..wheel.lines import WheelLines
from ..wheel.turning import TurnedWheel
from .palette import Palette
from .parts import Slide
from .quantities import best_unit, said, scale
from .slides import chart, line, view_panel
from .wheel_view import wheel_views
from .wheel_words import a_minute


def wheel_slides(found: TurnedWheel, build: WheelBuild, lines: WheelLines) -> tuple[Slide, ...]:
    """All of them."""

    def field(figure: Figure, palette: Palette) -> None:
        for ax, view in zip(figure.subplots(1, 2), wheel_views(build, lines), strict=True):
            view_panel(ax, view, palette)

    under = (f"{found.title}; gap {said(found.own.gap, 'm', 2)}, {found.teeth} teeth, N = {found.turns:.0f} turns")
    first = a_minute(found.speeds[0])
    return (
        Slide(name="one-axis", title="A tooth passes: flux, and its change in time",
              under=f"{under}; {first} turns a minute", draw=lambda figure, palette: _clock(figure, palette, found)),
        Slide(name="tooth", title="What the coil links while one tooth passes", under=under,
              draw=lambda figure, palette: _tooth(figure.subplots(), palette, found)),
        Slide(name="field", title="Over a tooth more flux finds its way up", under=under, draw=field),
        Slide(name="speeds", title="Twice as fast: twice as often, and twice as high", under=under,
              draw=lambda figure, palette: _speeds(figure.subplots(), palette, found)),
        Slide(name="laws", title="The voltage over the speed, and over the gap", under=under,
              draw=lambda figure, palette: _laws(figure, palette, found)))


def _clock(figure: Figure, palette: Palette, found: TurnedWheel) -> None:
    axes = figure.subplots(3, 1, sharex=True)
    unit = _time_unit(found.time[-1])
    t = found.time * scale(unit)
    for ax, (name, values, si) in zip(axes, (("Φ", found.per_turn, "Wb"), ("N Φ", found.linkage, "Wb"),
                                             ("e", found.emf, "V")), strict=True):
        shown = best_unit(float(np.max(np.abs(values))), si)
        chart(ax, t, [("", values * scale(shown))], palette, x_name="", y_name=f"{name} ({shown})")
        if name == "e":
            ax.fill_between(t, 0, values * scale(shown), color=palette.curves[0], alpha=0.2, lw=0)
    axes[-1].set(xlabel=f"time ({unit})", xlim=(t[0], t[-1]))
    figure.align_ylabels(list(axes))


def _tooth(ax: Axes, palette: Palette, found: TurnedWheel) -> None:
    part = np.linspace(-1.0, 1.0, 401)
    own = found.own
    unit = best_unit(float(np.max(np.abs(own.linkage))), "Wb")
    k, angle = scale(unit), 2 * np.pi / found.teeth
    line(ax, part, k * own.at(part * angle), palette, 0, "λ")
    solved = np.concatenate([-own.angles[:0:-1], own.angles]) / angle
    ax.plot(solved, k * own.at(solved * angle), "o", ms=8, color=palette.curves[0],
            label=f"solved, {2 * (own.angles.size - 1)} positions of a tooth")
    ax.axhline(k * found.alone, color=palette.curves[1], dashes=(6, 2), lw=2.0, label="without a wheel")
    ax.set(xlabel="place of the wheel, in teeth; 0: a tooth over the face", ylabel=f"λ = N Φ ({unit})", xlim=(-1, 1))
    ax.legend()


def _speeds(ax: Axes, palette: Palette, found: TurnedWheel) -> None:
    end = 2 / found.speeds[0].frequency
    unit = _time_unit(end)
    t = np.linspace(0.0, end, 1601)
    volts = best_unit(max(s.peak for s in found.speeds), "V")
    chart(ax, t * scale(unit), [(f"{a_minute(s)} turns a minute: {said(s.frequency, 'Hz')}",
                                 found.own.emf(t, s.speed) * scale(volts)) for s in found.speeds], palette,
          x_name=f"time ({unit})", y_name=f"e ({volts})")
    ax.set_xlim(0, end * scale(unit))
    low, high = ax.get_ylim()
    ax.set_ylim(low, high + 0.3 * (high - low))  # room for the legend


def _laws(figure: Figure, palette: Palette, found: TurnedWheel) -> None:
    left, right = figure.subplots(1, 2)
    volts = best_unit(max(s.peak for s in found.speeds), "V")
    speeds = np.array([60 * s.speed for s in found.speeds])
    left.plot(speeds, [s.peak * scale(volts) for s in found.speeds], "o", ms=10, color=palette.curves[0])
    line(left, np.append(0.0, speeds), np.append(0.0, [s.peak * scale(volts) for s in found.speeds]), palette, 0)
    left.set(title="in proportion to the speed", xlabel="turns a minute", ylabel=f"largest e ({volts})",
             xlim=(0, None), ylim=(0, None))
    turn = 2 * np.pi * found.speeds[0].speed
    peaks = np.array([turn * one.steepest for one in found.gaps])
    shown = best_unit(float(peaks.max()), "V")
    gaps = np.array([1e3 * one.gap for one in found.gaps])
    line(right, gaps, peaks * scale(shown), palette, 0)
    right.plot(gaps, peaks * scale(shown), "o", ms=10, color=palette.curves[0])
    right.set(title=f"at {a_minute(found.speeds[0])} turns a minute, log scale", xlabel="gap (mm)",
              ylabel=f"largest e ({shown})", yscale="log")
    right.yaxis.set_major_formatter("{x:g}")
    right.yaxis.set_minor_formatter("{x:g}")


def _time_unit(end: float) -> str:
    return "ms" if end < 2 else "s"
