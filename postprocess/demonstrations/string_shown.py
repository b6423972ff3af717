"""The demonstration of a driven string: its words, its slides, its moving picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure

from stringflux.geometry.arrays import Array

from .moving import Motion, MovingPicture, Shape, Slope, Trace, TraceCurve, View, label
from .parts import Series, SeriesColumn, Slide, Step
from .quantities import best_unit, digits, said, scale
from .record import Demonstration
from .signs import signs_of
from .slides import Palette, chart, line, view_panel
from .swing import DrivenString

SECONDS = 8.0
CANCELLED = 20.0
"""Times the string's flux: if less is left of the magnets', a share of it says nothing."""
LAW = "e = −dλ/dt,   λ = N Φ"
OWN_PART = "Told is the string's own part of Φ; the magnets' part stands still and makes no voltage."
MAGNETS = ("Strong magnets jump together and pinch; keep them from cards, instruments and medical implants.",)


@dataclass(frozen=True, kw_only=True, eq=False)
class StringPictures:
    """The plane across the strings through the pole.

    Attributes
    ----------
    window : tuple of float
        u from, to, z from, to, m.
    places : array (k,)
        Of the string, from rest, m.
    both, own : tuple of tuple of arrays (2, n)
        Lines of equal flux at each place: of magnets and string, and of the string alone (() where not wanted).
    finer : float
        How many times less flux stands between two lines of the string alone.
    shapes : tuple of Shape
        Poles and coil.
    string : array (2, 4)
        The string at rest, from its upper edge on the left.
    """

    window: tuple[float, float, float, float]
    places: Array
    both: tuple[tuple[Array, ...], ...]
    own: tuple[tuple[Array, ...], ...]
    finer: float
    shapes: tuple[Shape, ...]
    string: Array


def string_shown(found: DrivenString, pictures: StringPictures) -> Demonstration:
    """Everything of the demonstration, from what was found."""
    moves = ("plucked" if found.plucked else
             f"driven ± {said(found.amplitude, 'm', 2)} at {said(found.frequency, 'Hz')}")
    return Demonstration(
        name="string", title=f"A string over its pole: {found.pitch}",
        under=f"{found.title}; string {found.number}, {moves}, {said(found.gap, 'm', 2)} over the pole; "
              f"N = {found.turns:.0f} turns",
        found=found, law=LAW, steps=tuple(_steps(found)), signs=(*signs_of(found.sense), OWN_PART), cautions=MAGNETS,
        series=(Series(name="swing", columns=(
            SeriesColumn(name="time", unit="ms", values=found.time),
            SeriesColumn(name="place z", unit="mm", values=found.place),
            SeriesColumn(name="flux per turn", unit="nWb", values=found.per_turn),
            SeriesColumn(name="linkage", unit="µWb", values=found.linkage),
            SeriesColumn(name="slope", unit="mV per m/s", values=found.slope),
            SeriesColumn(name="emf", unit="mV", values=found.emf),
            SeriesColumn(name="emf at 2N", unit="mV", values=2 * found.emf))), _loops(found)),
        slides=_slides(found, pictures), moving=_moving(found, pictures))


def _steps(found: DrivenString) -> list[Step]:
    loop, turns = found.loop, found.turns
    per_turn = loop.linkage / turns
    low, high = int(np.argmin(loop.moved)), int(np.argmax(loop.moved))
    near, far = float(per_turn[low]), float(per_turn[high])
    change, half = near - far, found.period / 2
    flux, amp = best_unit(max(abs(near), abs(far)), "Wb"), said(found.amplitude, "m", 2)
    k = scale(flux)
    string = float(np.mean(per_turn))
    steps = []
    told = found.magnet_flux is not None and abs(found.magnet_flux) > CANCELLED * abs(string)
    if found.magnet_flux is not None and not told:
        steps.append(Step(says="The poles point up and down by turns, so that their fluxes through a turn round all "
                               f"of them nearly cancel: {said(found.magnet_flux, 'Wb')} are left. The string sends "
                               f"{said(string, 'Wb')} through it."))
    if found.magnet_flux is not None and told:
        steps.append(Step(
            says="The magnets send a flux through every turn that stands still. What the magnetised string sends "
                 "through it is a small part of that.",
            formula="Φ of the string / Φ of the magnets",
            numbers=f"{said(string, 'Wb')} / {said(found.magnet_flux, 'Wb')}",
            result=f"{digits(100 * abs(string / found.magnet_flux), 2)} %"))
    speed, slope = found.speed, loop.sensitivity
    peak = float(np.max(np.abs(found.emf)))
    if not found.plucked:
        part = [Step(says="That is what moves of all the flux through the turn.", formula="ΔΦ / Φ of the magnets",
                     numbers=f"{said(change, 'Wb')} / {said(found.magnet_flux, 'Wb')}",
                     result=f"{digits(100 * abs(change / found.magnet_flux), 2)} %")
                ] if found.magnet_flux is not None and told else []
        steps += [
            Step(says=f"The string goes from {amp} above its rest to {amp} below, nearer to the pole. Φ per turn "
                      "changes.",
                 formula="ΔΦ = Φ(−A) − Φ(+A)",
                 numbers=f"{digits(near * k, 4)} {flux} − {_bracketed(f'{digits(far * k, 4)} {flux}')}",
                 result=said(change, "Wb")),
            *part,
            Step(says="N turns see it, one after the other.", formula="Δλ = N ΔΦ",
                 numbers=f"{turns:.0f} × {_bracketed(said(change, 'Wb'))}", result=said(turns * change, "Wb")),
            Step(says="It takes half a period.", formula="T/2 = 1/(2 f)",
                 numbers=f"1 / (2 × {said(found.frequency, 'Hz')})", result=said(half, "s")),
            Step(says="So on the way down the mean voltage is", formula="mean e = −Δλ / (T/2)",
                 numbers=f"−{_bracketed(said(turns * change, 'Wb'))} / {said(half, 's')}",
                 result=said(-turns * change / half, "V")),
            Step(says="The string is fastest at its rest.", formula="v = 2π f A",
                 numbers=f"2π × {said(found.frequency, 'Hz')} × {amp}", result=said(speed, "m/s")),
        ]
    steps += [
        Step(says="There λ changes by so much for every metre: the slope of λ over z, which is the sensitivity.",
             formula="S = |dλ/dz|", result=f"{digits(1e3 * slope)} mV per m/s"),
        Step(says="Slope times speed is the voltage.",
             formula="e = S v", numbers=f"{digits(1e3 * slope)} mV per m/s × {said(speed, 'm/s')}",
             result=said(slope * speed, "V")),
        Step(says=f"The largest value of the computed curve is {said(peak, 'V')}."),
        Step(says="Twice the turns on the same window: every turn still sees the same Φ.", formula="e at 2N",
             numbers=f"2 × {said(peak, 'V')}", result=said(2 * peak, "V")),
        Step(says=f"Nearer by {said(found.nearer, 'm', 2)} and farther by {said(found.farther, 'm', 2)}, for a light "
                  "swing:",
             formula="S near, S here, S far",
             result=", ".join(f"{digits(1e3 * one.sensitivity)}" for one in (found.near, found.small, found.far))
             + " mV per m/s"),
        Step(says=f"A small swing (± {said(found.small.amplitude, 'm', 2)}) is nearly pure; a large one "
                  f"(± {said(found.large.amplitude, 'm', 2)}) has a second harmonic, for λ(z) is bent.",
             formula="second over first harmonic of e",
             result=f"{digits(100 * found.small.second, 2)} % and {digits(100 * found.large.second, 2)} %"),
    ]
    return steps


def _bracketed(said_so: str) -> str:
    """In brackets if it begins with a minus."""
    return f"({said_so})" if said_so.startswith("−") else said_so


def _loops(found: DrivenString) -> Series:
    loops = (found.small, found.loop, found.large)
    z = np.concatenate([loop.moved for loop in loops])
    return Series(name="loops", columns=(
        SeriesColumn(name="amplitude", unit="mm",
               values=np.concatenate([np.full(o.moved.size, o.amplitude) for o in loops])),
        SeriesColumn(name="place z", unit="mm", values=z),
        SeriesColumn(name="linkage", unit="µWb", values=np.concatenate([loop.linkage for loop in loops]))))


def _moving(found: DrivenString, pictures: StringPictures) -> MovingPicture:
    count = found.time.size
    motion = Motion.of(count, z=found.place)
    phase = np.abs(found.place[:, None] - pictures.places).argmin(axis=1)
    u0 = pictures.window[0]
    string = Shape(role="string", outline=pictures.string, motion=motion)
    bridge = label("string", u0 + 3.2e-3, float(pictures.string[1, 0]) + 1.4e-3, motion)
    views = tuple(View(title=title, window=pictures.window, shapes=(*pictures.shapes, string, bridge), lines=lines,
                       phase=phase)
                  for title, lines in (("magnets and string", pictures.both),
                                       (f"the string alone, × {digits(pictures.finer, 2)}", pictures.own)))
    per_turn, unit = found.per_turn, best_unit(float(np.max(np.abs(found.per_turn))), "Wb")
    volts = best_unit(2 * float(np.max(np.abs(found.emf))), "V")
    linkage = best_unit(float(np.max(np.abs(found.linkage))), "Wb")
    return MovingPicture(
        time=found.time, seconds=SECONDS, views=views,
        traces=(Trace(name="place z", unit="mm", curves=(TraceCurve(name="z", values=found.place),)),
                Trace(name="Φ per turn", unit=unit, curves=(TraceCurve(name="Φ", values=per_turn),)),
                Trace(name="λ = N Φ", unit=linkage, curves=(TraceCurve(name="λ", values=found.linkage),)),
                Trace(name="e = −dλ/dt", unit=volts, areas=True, curves=(
                    TraceCurve(name="N", values=found.emf),
                    TraceCurve(name="2N", values=2 * found.emf, quiet=True)))),
        slope=Slope(name="λ", unit=linkage, x_name="z", x_unit="mm", x=np.append(found.wide[0], found.wide[0, :1]),
                    y=np.append(found.wide[1], found.wide[1, :1]), at_x=found.place, at_y=found.linkage,
                    tangent=found.slope),
        notes=(
            "The picture is to scale and the string moves to scale.",
            "Between two lines on the left there is the same flux everywhere. On the right only the string's own "
            f"field is drawn, and its lines are {digits(pictures.finer, 2)} times finer: they stand for so much less "
            "flux.",
            "What goes on inside the string is left out of the lines. The poles answer to the string a little; that "
            "part is in the numbers but not in these lines. Other strings are left out of the picture.",
            "The steel's memory is in λ: up and down it goes by slightly different ways."))


def _slides(found: DrivenString, pictures: StringPictures) -> tuple[Slide, ...]:
    def four(figure: Figure, palette: Palette) -> None:
        t = 1e3 * found.time
        axes = figure.subplots(4, 1, sharex=True)
        flux = best_unit(float(np.max(np.abs(found.per_turn))), "Wb")
        linkage = best_unit(float(np.max(np.abs(found.linkage))), "Wb")
        volts = best_unit(2 * float(np.max(np.abs(found.emf))), "V")
        chart(axes[0], t, [("", 1e3 * found.place)], palette, x_name="", y_name="z (mm)")
        chart(axes[1], t, [("", found.per_turn * scale(flux))], palette, x_name="", y_name=f"Φ ({flux})")
        chart(axes[2], t, [("", found.linkage * scale(linkage))], palette, x_name="", y_name=f"N Φ ({linkage})")
        k = scale(volts)
        chart(axes[3], t, [("N", found.emf * k), ("2N", 2 * found.emf * k)], palette, x_name="time (ms)",
              y_name=f"e ({volts})")
        axes[3].fill_between(t, 0, found.emf * k, color=palette.curves[0], alpha=0.2, lw=0)
        figure.align_ylabels(list(axes))
        axes[3].set_xlim(t[0], t[-1])

    def slope(figure: Figure, palette: Palette) -> None:
        unit = best_unit(float(np.max(np.abs(found.linkage))), "Wb")
        k, ax = scale(unit), figure.subplots()
        wide = found.large
        rest = float(np.mean(found.loop.linkage))
        s = found.slope[int(np.argmin(np.abs(found.place)))]
        z = np.array([-1, 1]) * wide.amplitude
        around = np.append(found.wide, found.wide[:, :1], axis=1)
        line(ax, 1e3 * around[0], k * around[1], palette, 0,
             f"λ over a swing of ± {said(wide.amplitude, 'm', 2)}")
        line(ax, 1e3 * z, k * (rest + s * z), palette, 1, f"tangent at rest: S = {digits(1e3 * abs(s))} mV per m/s")
        ax.plot([0], [k * rest], "o", ms=11, color=palette.curves[1])
        ax.set(xlabel="place of the string z, up (mm)", ylabel=f"λ = N Φ ({unit})")
        ax.legend()

    def field(figure: Figure, palette: Palette) -> None:
        views = _moving(found, pictures).views
        lowest = int(np.argmin(found.place))
        for ax, view in zip(figure.subplots(1, 2), views, strict=True):
            view_panel(ax, view, palette, lowest)

    def what_if(figure: Figure, palette: Palette) -> None:
        left, right = figure.subplots(1, 2)
        angle = np.linspace(0, 2 * np.pi, 201)
        rising = -float(np.sign(found.slope[0]))  # of e, where the string goes up
        for number, (name, loop) in enumerate((
                (f"nearer by {said(found.nearer, 'm', 2)}", found.near), ("here", found.small),
                (f"farther by {said(found.farther, 'm', 2)}", found.far))):
            volts = rising * 1e3 * loop.sensitivity * 2 * np.pi * found.frequency * loop.amplitude
            line(left, np.degrees(angle), volts * np.cos(angle), palette, number, name)
        left.set(title=f"Near and far, ± {said(found.small.amplitude, 'm', 2)}", xlabel="angle of the swing (°)",
                 ylabel="e (mV)", xticks=[0, 90, 180, 270, 360])
        left.legend()
        names = [f"± {said(o.amplitude, 'm', 2)}" for o in (found.small, found.loop, found.large)]
        values = [100 * o.second for o in (found.small, found.loop, found.large)]
        bars = right.bar(names, values, color=palette.curves[0], width=0.55)
        right.bar_label(bars, [f"{digits(v, 2)} %" for v in values])
        right.set(title="Second harmonic of e", ylabel="of the first (%)", xlabel="swing")

    under = f"{found.title}; string {found.number} ({found.pitch}), ± {said(found.amplitude, 'm', 2)}"
    return (Slide(name="one-axis", title="From the string's place to its voltage", under=under, draw=four),
            Slide(name="slope", title="The voltage is a slope times a speed", under=under, draw=slope),
            Slide(name="field", title="The string nearest to the pole, and what it adds", under=under, draw=field),
            Slide(name="what-if", title="Nearer, farther; small and large", under=under, draw=what_if))
