"""The demonstration of hum: its words, its slides, its moving picture."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from matplotlib.figure import Figure

from stringflux.geometry.arrays import Array

from .mains import FALLS, MainsHum, left_of_pair
from .moving import MovingPicture, Role, Shape, Trace, TraceCurve, View, label
from .parts import Series, SeriesColumn, Slide, Step
from .quantities import best_unit, digits, said, scale
from .record import Demonstration
from .slides import Palette, chart, line, view_panel
from .string_shown import MAGNETS, SECONDS

LAW = "e = −N A dB/dt,   V = ω N A B"
CAUTIONS = (
    "Never open gear that is powered from the mains, and bring nothing of your own into its leads: the field goes "
    "through the air, an arm's length away is enough.", *MAGNETS)
_LEVELS = 15  # of the field, from one peak to the other, that are drawn
_TURNED: dict[Role, Role] = {"into": "out", "out": "into"}
_ENDS = {"⊗": "⊙", "⊙": "⊗", "N": "S", "S": "N"}
Box = tuple[float, float, float, float]
_REACH = np.linspace(0.05, 2.0, 300)  # m
_TOLD = 0.3  # m


@dataclass(frozen=True, kw_only=True, eq=False)
class HumPicture:
    """The plane across the strings.

    Attributes
    ----------
    window : tuple of float
        u from, to, z from, to, m.
    one : tuple of Shape
        Poles and the loudest coil.
    both : tuple of Shape, optional
        With all coils of the case; None for a coil alone.
    """

    window: Box
    one: tuple[Shape, ...]
    both: tuple[Shape, ...] | None


def hum_shown(found: MainsHum, picture: HumPicture) -> Demonstration:
    """Everything of the demonstration, from what was found."""
    return Demonstration(
        name="hum", title=f"Hum: the coil in {_field(found.field)} at {found.frequency:g} Hz",
        under=f"{found.title}; N = {found.turns:.0f} turns"
              + (f" of the coil “{found.coil}”" if found.several else "")
              + f"; beside it string {found.string} ({found.pitch})",
        found=found, law=LAW, steps=tuple(_steps(found)), signs=_signs(found), cautions=CAUTIONS,
        series=_series(found), slides=_slides(found, picture), moving=_moving(found, picture))


def _steps(found: MainsHum) -> list[Step]:
    n, f, b = f"{found.turns:.0f}", f"{found.frequency:g} Hz", _field(found.field)
    w, volts = digits(2 * np.pi * found.frequency), said(found.voltage, "V")
    turns, whole = abs(found.turns_area), found.area
    steps = [
        Step(says="A turn goes round a mean area A, and N turns go round N times that.", formula="N A",
             numbers=f"{n} × {said(turns / found.turns, 'm²')}", result=said(turns, "m²")),
        Step(says=_poles(found), formula="N A with the poles",
             numbers=f"{said(turns, 'm²')} × {digits(whole / turns)}", result=said(whole, "m²")),
        Step(says="A mains field swings with the angular frequency", formula="ω = 2π f", numbers=f"2π × {f}",
             result=f"{w} per second"),
        Step(says=f"In a field of {b} (rms) the voltage is, rms,", formula="V = ω N A B",
             numbers=f"{w} per second × {said(whole, 'm²')} × {b}", result=volts),
        Step(says="At its peak it is √2 times that.", formula="√2 V", numbers=f"1.414 × {volts}",
             result=said(np.sqrt(2) * found.voltage, "V")),
    ]
    if found.signal:
        ratio = found.voltage / found.signal
        steps.append(Step(
            says=f"The string ({found.pitch}), swinging ± {said(found.swing, 'm', 2)}, makes "
                 f"{said(found.signal, 'V')} rms. Beside it the hum is",
            formula="20 log₁₀(V / V of the string)", numbers=f"20 log₁₀({volts} / {said(found.signal, 'V')})",
            result=f"{digits(20 * np.log10(ratio), 2)} dB"))
    steps += [
        Step(says="The mean of homes is 0.06 µT, the usual range goes up to 0.4 µT (EPRI, 1993; Gajšek and others, "
                  "2016), the limit for the public is 200 µT (ICNIRP, 2010). There V would be",
             formula="V", result=", ".join(said(v, "V") for v in found.hums)),
        Step(says=_pair(found), formula="V of both", numbers=f"{volts} − {volts}" if not found.several else "",
             result=said(found.left, "V") if found.left else "0"),
    ]
    if not found.several:
        steps.append(Step(says="If one of them has a hundredth more turns, a hundredth is left.",
                          formula="V of both", numbers=f"0.01 × {volts}", result=said(0.01 * found.voltage, "V")))
    steps.append(Step(
        says="Near its source a field is not the same at both. They lie d = "
             f"{said(found.apart, 'm', 2)} apart; a small transformer's field falls off as 1/r³, and "
             f"r = {said(_TOLD, 'm', 2)} away from it there is left of one coil's hum at most",
        formula="((r − d/2)⁻³ − (r + d/2)⁻³) r³",
        result=f"{digits(100 * float(left_of_pair(found.apart, _TOLD, 3)), 2)} %"))
    return steps


def _field(b: float) -> str:
    return f"{1e6 * b:.3g} µT"


def _poles(found: MainsHum) -> str:
    if not found.poles_area:
        return "Nothing in the coil draws the field together."
    return "Poles in the coil draw the field together, so that it is as if the area were larger."


def _pair(found: MainsHum) -> str:
    if not found.several:
        return ("The same coil once more beside it, wound the other way, both in series: in a field that is the same "
                "at both their voltages are opposite at every moment. Its magnets are turned round as well, so the "
                "strings' voltages add.")
    left = ("Nothing is left" if not np.isfinite(found.level) else
            f"{digits(found.level, 2)} dB of the loudest alone is left")
    return (f"This case has several coils ({found.connection}). In a field that is the same at all of them, along "
            f"the way that “{found.coil}” hears best: {left}.")


def _signs(found: MainsHum) -> tuple[str, ...]:
    way = "counter-clockwise" if found.sense > 0 else "clockwise"
    return (f"Seen from the strings the wire goes round {way}, from its start to its finish.",
            f"B is positive up, towards the strings, and Φ {'up' if found.sense > 0 else 'down'}: the way a "
            "right-handed screw moves that is turned as the wire goes round. ⊗ is wire that goes away from you, ⊙ "
            "wire that comes towards you.",
            "e is positive where it drives current from start to finish inside the coil: the finish is then the + "
            "end.",
            "Lenz: while B rises, e is such that its current would weaken it.",
            "V is rms; curves are the values at every moment.")


def _series(found: MainsHum) -> tuple[Series, ...]:
    mains = Series(name="mains", columns=(
        SeriesColumn(name="time", unit="ms", values=found.time),
        SeriesColumn(name="flux density", unit="nT", values=found.flux_density),
        SeriesColumn(name="flux per turn", unit="pWb", values=found.per_turn),
        SeriesColumn(name="linkage", unit="nWb", values=found.linkage),
        SeriesColumn(name="emf", unit="µV", values=found.emf),
        SeriesColumn(name="emf of the other coil", unit="µV", values=found.other_emf),
        SeriesColumn(name="emf of both", unit="µV", values=found.left_emf)))
    away = Series(name="distance", columns=(
        SeriesColumn(name="distance", unit="cm", values=_REACH),
        *(SeriesColumn(name=f"left beside {name}", unit="%", values=_left(found, power))
          for name, power in FALLS.items())))
    fields = Series(name="fields", columns=(
        SeriesColumn(name="flux density rms", unit="nT", values=found.fields),
        SeriesColumn(name="voltage rms", unit="µV", values=found.hums)))
    return mains, away, fields


def _left(found: MainsHum, power: int) -> Array:
    return left_of_pair(found.apart, np.maximum(_REACH, 1.2 * found.apart), power)


def _arrows(found: MainsHum, window: Box, columns: int) -> tuple[tuple[Array, ...], ...]:
    """The field as arrows at every level, from one peak to the other."""
    u0, u1, z0, z1 = window
    du, dz = (u1 - u0) / columns, (z1 - z0) / 3
    way = found.direction[[0, 2]] / np.hypot(*found.direction[[0, 2]])
    middles = [np.array([[u0 + (i + 0.5) * du], [z0 + (j + 0.5) * dz]]) for i in range(columns) for j in range(3)]
    steps = np.linspace(-0.5, 0.5, 7)
    sets = []
    for level in np.linspace(-1, 1, _LEVELS):
        length = 0.8 * dz * level
        sets.append(tuple(m + length * np.multiply.outer(way, steps) for m in middles) if abs(level) > 0.05 else ())
    return tuple(sets)


def _views(found: MainsHum, picture: HumPicture) -> tuple[View, View]:
    levels = np.linspace(-1, 1, _LEVELS)
    peak = float(np.max(np.abs(found.flux_density)))
    phase = np.abs(found.flux_density[:, None] / peak - levels).argmin(axis=1)
    u0, u1, z0, z1 = picture.window
    word = label("B", u0 + (u1 - u0) / 8 + 1.3e-3, z1 - 2e-3)
    one = View(title=found.coil if found.several else "one coil", window=picture.window, shapes=(*picture.one, word),
               lines=_arrows(found, picture.window, 4), phase=phase)
    if picture.both is not None:
        return one, View(title="all coils", window=picture.window, shapes=picture.both, lines=one.lines, phase=phase)
    half = found.apart / 2
    wide = (u0 - half, u1 + half, z0, z1)
    shapes = (*(_moved(s, -half) for s in picture.one), *(_moved(_turned(s), half) for s in picture.one),
              label("e", -half, z0 + 1.5e-3), label("−e", half, z0 + 1.5e-3))
    return one, View(title="two, one wound the other way", window=wide, shapes=shapes,
                     lines=_arrows(found, wide, 6), phase=phase)


def _moved(shape: Shape, u: float) -> Shape:
    at = None if shape.at is None else (shape.at[0] + u, shape.at[1])
    return replace(shape, outline=shape.outline + np.array([[u], [0.0]]), at=at)


def _turned(shape: Shape) -> Shape:
    return replace(shape, role=_TURNED.get(shape.role, shape.role), label=_ENDS.get(shape.label, shape.label))


def _names(found: MainsHum) -> tuple[str, str, str]:
    return (found.coil, found.other, "all together") if found.several else ("one", "the other", "both")


def _moving(found: MainsHum, picture: HumPicture) -> MovingPicture:
    units = [best_unit(float(np.max(np.abs(v))), si) for v, si in (
        (found.flux_density, "T"), (found.per_turn, "Wb"), (found.linkage, "Wb"), (found.emf, "V"))]
    curves = zip(_names(found), (found.emf, found.other_emf, found.left_emf), strict=True)
    return MovingPicture(
        time=found.time, seconds=SECONDS, views=_views(found, picture),
        traces=(Trace(name="B", unit=units[0], curves=(TraceCurve(name="B", values=found.flux_density),)),
                Trace(name="Φ per turn", unit=units[1], curves=(TraceCurve(name="Φ", values=found.per_turn),)),
                Trace(name="λ = N Φ", unit=units[2], curves=(TraceCurve(name="λ", values=found.linkage),)),
                Trace(name="e = −dλ/dt", unit=units[3], areas=True,
                      curves=tuple(TraceCurve(name=name, values=values) for name, values in curves))),
        notes=("The coils are to scale. The arrows show the field of the mains as it would be without the coil, "
               "along the way that the coil hears best; how long they are shows how large it is at that moment.",
               "The magnets' own field stands still and makes no voltage; it is not drawn.",
               "Told at the cursor is one coil."))


def _slides(found: MainsHum, picture: HumPicture) -> tuple[Slide, ...]:
    t = 1e3 * found.time

    def unit_of(values: Array, si: str) -> tuple[str, float]:
        unit = best_unit(float(np.max(np.abs(values))), si)
        return unit, scale(unit)

    def four(figure: Figure, palette: Palette) -> None:
        axes = figure.subplots(4, 1, sharex=True)
        for ax, (name, values, si) in zip(axes, (("B", found.flux_density, "T"), ("Φ", found.per_turn, "Wb"),
                                                 ("N Φ", found.linkage, "Wb"), ("e", found.emf, "V")), strict=True):
            unit, k = unit_of(values, si)
            chart(ax, t, [("", k * values)], palette, x_name="time (ms)" if ax is axes[3] else "",
                  y_name=f"{name} ({unit})")
        axes[3].fill_between(t, 0, k * found.emf, color=palette.curves[0], alpha=0.2, lw=0)
        figure.align_ylabels(list(axes))
        axes[3].set_xlim(t[0], t[-1])

    def pair(figure: Figure, palette: Palette) -> None:
        left, right = figure.subplots(1, 2, width_ratios=(1, 1))
        rising = int(np.argmax(found.flux_density))
        view_panel(left, _views(found, picture)[1], palette, rising)
        unit, k = unit_of(found.emf, "V")
        chart(right, t, [(name, k * values) for name, values in zip(
            _names(found), (found.emf, found.other_emf, found.left_emf), strict=True)], palette, x_name="time (ms)",
            y_name=f"e ({unit})")
        right.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=3)
        right.set_xlim(t[0], t[-1])

    def beside(figure: Figure, palette: Palette) -> None:
        ax = figure.subplots()
        here = [] if np.any(np.isclose(found.fields, found.field)) else [(f"hum in {_field(found.field)}",
                                                                           found.voltage)]
        rows = [*([(f"string {found.string}, ± {said(found.swing, 'm', 2)}", found.signal)] if found.signal else []),
                *here, *((f"hum in {_field(b)}", v)
                         for b, v in zip(found.fields, found.hums, strict=True))]
        rows.reverse()
        values = [1e3 * v for _, v in rows]
        colours = [palette.curves[0 if name.startswith("string") else 1] for name, _ in rows]
        bars = ax.barh([name for name, _ in rows], values, color=colours, height=0.6)
        ax.bar_label(bars, [said(v, "V") for _, v in rows], padding=8, fontsize=16)
        ax.set(xscale="log", xlabel="rms voltage (mV), each step ten times as large",
               xlim=(min(values) / 5, max(values) * 8))
        ax.xaxis.set_major_formatter(lambda v, _: f"{v:g}")
        ax.tick_params(axis="y", labelsize=16)
        ax.grid(visible=False, axis="y")

    def distance(figure: Figure, palette: Palette) -> None:
        ax = figure.subplots()
        for number, (name, power) in enumerate(FALLS.items()):
            line(ax, 100 * _REACH, 100 * _left(found, power), palette, number, f"beside {name}")
        ax.set(xscale="log", yscale="log", xlabel="distance of the source (cm)", ylabel="left of one coil's hum (%)",
               xlim=(100 * _REACH[0], 100 * _REACH[-1]))
        for axis in (ax.xaxis, ax.yaxis):
            axis.set_major_formatter(lambda v, _: f"{v:g}")
        ax.legend()

    under = f"{found.title}; {_field(found.field)} rms at {found.frequency:g} Hz"
    two = "Its coils against each other" if found.several else "Two coils, one wound the other way: nothing is left"
    return (Slide(name="one-axis", title="From the field of the mains to a voltage", under=under, draw=four),
            Slide(name="pair", title=two, under=under, draw=pair),
            Slide(name="beside-the-string", title="The hum of one coil beside the string", under=under, draw=beside),
            Slide(name="distance", title="Near a source the field is not the same at both coils",
                  under=f"{found.title}; coils {said(found.apart, 'm', 2)} apart, the source in line with them",
                  draw=distance))
