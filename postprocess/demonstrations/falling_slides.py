"""Slides of a magnet that passes a coil."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from stringflux.geometry.case.keys import sense_of
from stringflux.geometry.demonstrations.falling import FallingMagnet

from ..falling.passage import Passage
from .falling_view import FallingLines, frames, view, window
from .falling_words import slope_words, volt_seconds
from .palette import Palette
from .parts import Slide
from .quantities import best_unit, said, scale
from .slides import chart, line, view_panel

Draw = Callable[[Figure, Palette], None]


def slides(case: FallingMagnet, found: Passage, lines: FallingLines, under: str) -> tuple[Slide, ...]:
    """All of them."""
    made: list[tuple[str, str, Draw]] = [
        ("one-axis", "From the magnet's place to the voltage", _one_axis(case, found)),
        ("flux", "Φ through a turn over the place of the magnet", _flux(case, found)),
        ("areas", "Both areas are N ΔΦ", _areas(case, found)),
        ("speed", "The peaks go with the speed", _speed(case, found)),
        ("turned-round", "The magnet turned round", _turned(case, found)),
        ("lenz", "Lenz: which way a current would flow", _lenz(case, found, lines))]
    if case.tube is not None:
        made.append(("tube", "In the tube it sinks at one speed", _tube(found)))
    return tuple(Slide(name=name, title=title, under=under, draw=draw) for name, title, draw in made)


def _clock(seconds: float) -> tuple[str, float]:
    return ("ms", 1e3) if seconds < 2 else ("s", 1.0)


def _one_axis(case: FallingMagnet, found: Passage) -> Draw:
    def draw(figure: Figure, palette: Palette) -> None:
        shown = frames(case, found)
        unit, k = _clock(float(shown.time[-1] - shown.time[0]))
        axes = figure.subplots(4, 1, sharex=True)
        rows = (("z", "mm", shown.z), ("Φ", best_unit(float(np.max(np.abs(shown.flux))), "Wb"), shown.flux),
                ("N Φ", best_unit(float(np.max(np.abs(shown.linkage))), "Wb"), shown.linkage),
                ("e", best_unit(float(np.max(np.abs(shown.e))), "V"), shown.e))
        for ax, (name, of, values) in zip(axes, rows, strict=True):
            chart(ax, k * shown.time, [("", values * scale(of))], palette, x_name="", y_name=f"{name} ({of})")
        axes[3].fill_between(k * shown.time, 0, shown.e * scale(rows[3][1]), color=palette.curves[0], alpha=0.2, lw=0)
        axes[3].set(xlabel=f"time ({unit})", xlim=(k * shown.time[0], k * shown.time[-1]))
        figure.align_ylabels(list(axes))

    return draw


def _flux(case: FallingMagnet, found: Passage) -> Draw:
    def draw(figure: Figure, palette: Palette) -> None:
        ax = figure.subplots()
        high = window(case)[3] + case.magnet.length
        z = np.linspace(max(float(found.heights[0]), -high), min(float(found.z.max()), high), 601)
        flux = found.at(z) / found.turns
        unit = best_unit(float(np.max(np.abs(flux))), "Wb")
        k = scale(unit)
        line(ax, 1e3 * z, k * flux, palette, 0, "with the core" if found.bare_at is not None else "")
        if found.bare_at is not None:
            line(ax, 1e3 * z, k * np.interp(z, found.heights, found.bare_at) / found.turns, palette, 1, "without it")
            ax.legend()
        half = 1e3 * case.coil.length / 2
        ax.axvspan(-half, half, color=palette.fills["winding"], alpha=0.45, lw=0)
        ax.set(xlabel="height z of the magnet's middle over the coil's middle (mm)", ylabel=f"Φ per turn ({unit})",
               xlim=(min(1e3 * z[0], -half), 1e3 * z[-1]))
        at, va = (0.97, "top") if flux[np.argmax(np.abs(flux))] < 0 else (0.03, "bottom")
        ax.text(0.0, at, "coil", transform=ax.get_xaxis_transform(), ha="center", va=va)
        ratio = found.turns / k * scale(of)
        mirrored = ax.secondary_yaxis("right", functions=(_times(ratio), _times(1 / ratio)))
        mirrored.set_ylabel(f"N Φ ({of})")

    of = best_unit(float(np.max(np.abs(found.linkage))), "Wb")
    return draw


def _times(factor: float) -> Callable[[Any], Any]:
    return lambda values: np.asarray(values) * factor


def _areas(case: FallingMagnet, found: Passage) -> Draw:
    def draw(figure: Figure, palette: Palette) -> None:
        ax = figure.subplots()
        shown = frames(case, found)
        unit, k = _clock(float(shown.time[-1] - shown.time[0]))
        volts = best_unit(float(np.max(np.abs(shown.e))), "V")
        of = scale(volts)
        t, e = k * shown.time, of * shown.e
        line(ax, t, e, palette, 0)
        turn = k * found.t[found.middle]
        for number, (half, area, peak) in enumerate(((t <= turn, found.areas[0], found.first),
                                                     (t >= turn, found.areas[1], found.second))):
            colour = palette.curves[number]
            ax.fill_between(t[half], 0, e[half], color=colour, alpha=0.25, lw=0)
            _note(ax, f"∫ e dt = {volt_seconds(area)}", (k * peak.t, 0.42 * of * peak.e), palette)
            ax.plot([k * peak.t], [of * peak.e], "o", ms=9, color=colour)
            _note(ax, f"{said(peak.e, 'V')} at {said(peak.speed, 'm/s')}",
                  (k * peak.t, of * peak.e * 1.07), palette)
        ax.set(xlabel=f"time ({unit})", ylabel=f"e ({volts})", xlim=(t[0], t[-1]),
               ylim=np.array([-1.2, 1.2]) * float(np.max(np.abs(e))))
        n_flux = said(abs(float(found.changes[0])), "Wb")
        ax.set_title(f"N ΔΦ = {n_flux}, and 1 Wb = 1 V s")

    return draw


def _note(ax: Axes, text: str, at: tuple[float, float], palette: Palette) -> None:
    ax.annotate(text, at, ha="center", va="center",
                bbox={"facecolor": palette.ground, "edgecolor": "none", "alpha": 0.8, "pad": 2})


def _speed(case: FallingMagnet, found: Passage) -> Draw:
    def draw(figure: Figure, palette: Palette) -> None:
        ax = figure.subplots()
        others = found.others
        all_of = [*others.first, *others.second]
        fastest, highest = max(p.speed for p in all_of), max(abs(p.e) for p in all_of)
        unit = best_unit(highest, "V")
        k = scale(unit)
        slope = found.steepest if case.core is None else abs(found.first.e) / found.first.speed
        steady = np.array([0.0, 1.05 * fastest])
        where = "at one speed throughout" if case.core is None else "where the peak is"
        line(ax, steady, k * slope * steady, palette, 0, f"{where}: {slope_words(slope)}")
        for number, (name, of, mark, size) in enumerate((("first peak", others.first, "o", 14),
                                                         ("second peak", others.second, "s", 8))):
            ax.plot([p.speed for p in of], [k * abs(p.e) for p in of], mark, ms=size, label=name,
                    color=palette.curves[number + 1])
        ax.set(xlabel="speed of the magnet at the peak (m/s)", ylabel=f"peak of |e| ({unit})", xlim=(0, None),
               ylim=(0, None))
        ax.legend()

    return draw


def _turned(case: FallingMagnet, found: Passage) -> Draw:
    def draw(figure: Figure, palette: Palette) -> None:
        shown = frames(case, found)
        unit, k = _clock(float(shown.time[-1] - shown.time[0]))
        volts = best_unit(float(np.max(np.abs(shown.e))), "V")
        other = "south" if case.magnet.down == "north" else "north"
        ax = figure.subplots()
        chart(ax, k * shown.time, [(f"{case.magnet.down} end below", shown.e * scale(volts)),
                                   (f"{other} end below", -shown.e * scale(volts))], palette,
              x_name=f"time ({unit})", y_name=f"e ({volts})")
        ax.set_xlim(k * shown.time[0], k * shown.time[-1])

    return draw


def _lenz(case: FallingMagnet, found: Passage, lines: FallingLines) -> Draw:
    def draw(figure: Figure, palette: Palette) -> None:
        sense = sense_of(case.coil.winding)
        for ax, peak, when in zip(figure.subplots(1, 2), (found.first, found.second), ("comes", "goes"), strict=True):
            way = sense if peak.e > 0 else -sense
            plus = "end" if peak.e > 0 else "start"
            title = f"It {when}: e = {said(peak.e, 'V')}, the {plus} is +"
            picture = view(case, np.array([peak.z]), lines, title, way)
            view_panel(ax, picture, palette)
            u, half = 1e3 * 0.8 * window(case)[1], 1e3 * 0.09 * (window(case)[3] - window(case)[2])
            ax.annotate("", (u, way * half), (u, -way * half),
                        arrowprops={"arrowstyle": "-|>", "color": palette.curves[1], "lw": 4, "mutation_scale": 26})
            _note(ax, "the current's flux\nthrough the coil", (u, -way * half * 1.6), palette)
            down = -1 if when == "comes" or case.core is None else 1
            ax.annotate("", (-u, 1e3 * peak.z + down * half), (-u, 1e3 * peak.z),
                        arrowprops={"arrowstyle": "-|>", "color": palette.curves[2], "lw": 4, "mutation_scale": 26})
            _note(ax, "motion", (-u, 1e3 * peak.z - down * half * 0.35), palette)

    return draw


def _tube(found: Passage) -> Draw:
    def draw(figure: Figure, palette: Palette) -> None:
        ax = figure.subplots()
        z = 1e3 * found.z
        free = np.sqrt(np.maximum(2 * 9.80665 * (found.z[0] - found.z), 0.0))
        most = max(float(np.max(np.abs(found.v))), 3 * (found.terminal_speed or 0.0))
        chart(ax, z, [("in the tube", np.abs(found.v)), ("without it", free)], palette,
              x_name="height z of the magnet's middle over the coil's middle (mm)", y_name="speed (m/s)")
        if found.terminal_speed is not None:
            ax.axhline(found.terminal_speed, color=palette.soft, lw=1.5, dashes=(2, 2))
            _note(ax, f"m g/k = {said(found.terminal_speed, 'm/s')}",
                  (float(np.mean(z)), found.terminal_speed + 0.05 * most), palette)
        ax.set(ylim=(0, 1.15 * most), xlim=(z.max(), z.min()))
        ax.legend()

    return draw
