"""The demonstration of three coils: its words, its slides, its moving picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from stringflux.geometry.arrays import Array

from .coils import OneCoil, ThreeCoils
from .moving import Motion, MovingPicture, Shape, Trace, TraceCurve, View, label
from .parts import Series, SeriesColumn, Slide, Step
from .quantities import best_unit, digits, said, scale
from .record import Demonstration
from .signs import signs_of
from .slides import Palette, chart, line, view_panel
from .string_shown import CANCELLED, MAGNETS, SECONDS, StringPictures

LAW = "e = −dλ/dt,   λ = N Φ,   L = λ per ampere"
_SPEED = 1e3  # mV per m/s in V·s/m


@dataclass(frozen=True, kw_only=True, eq=False)
class CoilPicture:
    """The plane across the strings through the pole.

    Attributes
    ----------
    pictures : StringPictures
        With the magnets.
    bare, core : tuple of Shape
        Coil and poles without them.
    """

    pictures: StringPictures
    bare: tuple[Shape, ...]
    core: tuple[Shape, ...]


def three_coils_shown(found: ThreeCoils, picture: CoilPicture) -> Demonstration:
    """Everything of the demonstration, from what was found."""
    return Demonstration(
        name="three-coils", title="Why the magnet: one coil three times",
        under=f"{found.title}; N = {found.turns:.0f} turns; string {found.number} ({found.pitch}), "
              f"± {said(found.amplitude, 'm', 2)} at {said(found.frequency, 'Hz')}, {said(found.gap, 'm', 2)} over "
              "the pole",
        found=found, law=LAW, steps=tuple(_steps(found)),
        signs=(*signs_of(found.sense), "S is told without a sign: how large e is for every m/s of the string."),
        cautions=MAGNETS, series=_series(found), slides=_slides(found, picture), moving=_moving(found, picture))


def _steps(found: ThreeCoils) -> list[Step]:
    bare, core, magnet = found.coils
    n, amp = f"{found.turns:.0f}", said(found.amplitude, "m", 2)
    one = [said(c.inductance / found.turns, "Wb") for c in found.coils]
    cores = magnet.core
    steps = [
        Step(says="The coil with nothing in it: one ampere sends so much flux through a turn, and N turns see it.",
             formula="L = N Φ / I", numbers=f"{n} × {one[0]} / 1 A", result=said(bare.inductance, "H")),
        Step(says=f"The poles replaced by steel ({core.core}) of the same shape. Steel lets more flux through for "
                  "the same current; by itself it makes none.",
             formula="L = N Φ / I", numbers=f"{n} × {one[1]} / 1 A", result=said(core.inductance, "H")),
        Step(says=f"The poles as they are ({cores}).", formula="L = N Φ / I", numbers=f"{n} × {one[2]} / 1 A",
             result=said(magnet.inductance, "H")),
        Step(says="The string over it answers to the coil's current as well, so that L is a little larger with it: "
                  "bare, with steel, with the magnet.",
             formula="ΔL / L", numbers=", ".join(f"{_share(c)}" for c in found.coils)),
        Step(says="Without a current: Φ through a turn, bare and with steel. Nothing makes a flux, and the string is "
                  "not magnetised.", formula="Φ", result="0"),
        Step(says=_standing(found), formula="Φ = Φ of the magnets + Φ of the string",
             numbers=f"{said(magnet.magnet_flux, 'Wb')} {_signed(magnet.string_flux)}",
             result=said(magnet.magnet_flux + magnet.string_flux, "Wb", 5)),
        Step(says=f"The string swings ± {amp}. It takes its own flux along: of no flux, nothing changes.",
             formula="S, bare and with steel",
             result=f"{_speed(bare.sensitivity)} and {_speed(core.sensitivity)} mV per m/s"),
        Step(says=f"The magnet puts the string into {said(found.bias, 'T')}, so that the string is a magnet too, and "
                  "its flux through the turns changes with its place.",
             formula="S with the magnet", result=f"{_speed(magnet.sensitivity)} mV per m/s"),
        Step(says="That is a voltage. Largest values of the computed curves: bare, with steel, with the magnet.",
             formula="e = −dλ/dt", result=", ".join(said(_peak(c), "V") for c in found.coils)),
        Step(says="And with the magnet charged to less: none, " + ", ".join(
            f"{digits(100 * q, 2)} %" for q in found.charge[1:]) + ".",
             formula="S", result=", ".join(_speed(s) for s in found.charged) + " mV per m/s"),
        Step(says=_proportion(found)),
        Step(says="So L asks how easily flux goes through the coil, and S asks how much flux there is to be moved. "
                  "Steel raises L alone."),
        Step(says="Left out is what steel and strings keep of old magnetisation, and the earth's field, some 50 µT "
                  f"where the magnet makes {said(found.bias, 'T')}: a real coil with a steel core is heard faintly."),
    ]
    return steps


def _standing(found: ThreeCoils) -> str:
    here = "With the magnet Φ stands there all the time, the string's part included."
    if _alternating(found):
        here += " The poles look both ways and their parts nearly cancel in the sum over the coil."
    return here


def _proportion(found: ThreeCoils) -> str:
    """What half the charge says of the steel of the string."""
    half = float(np.interp(0.5, found.charge, found.charged) / found.charged[-1])
    told = f"Half the charge leaves {digits(100 * half, 2)} % of S"
    if half > 0.55:
        return f"{told}, more than half: with all of it the steel of the string is nearly saturated."
    if half < 0.45:
        return f"{told}, less than half: in a weak field the steel of the string gives way to it less."
    return f"{told}: S goes with the magnet."


def _alternating(found: ThreeCoils) -> bool:
    """Whether the magnets' flux through a turn is not many times that of its string."""
    return abs(found.magnet.magnet_flux) < CANCELLED * abs(found.magnet.string_flux)


def _signed(flux: float) -> str:
    return f"{'−' if flux < 0 else '+'} {said(abs(flux), 'Wb')}"


def _share(coil: OneCoil) -> str:
    return f"{digits(100 * coil.string_inductance / coil.inductance, 2)} %"


def _speed(sensitivity: float) -> str:
    return digits(_SPEED * sensitivity)


def _peak(coil: OneCoil) -> float:
    return float(np.max(np.abs(coil.emf)))


def _series(found: ThreeCoils) -> tuple[Series, ...]:
    def three(name: str, unit: str, of: str) -> list[SeriesColumn]:
        return [SeriesColumn(name=f"{name} {c.name}", unit=unit, values=getattr(c, of)) for c in found.coils]

    def each(values: list[float]) -> Array:
        return np.array(values)

    table = Series(name="coils", columns=(
        SeriesColumn(name="coil: 1 bare 2 steel core 3 magnet", unit="", values=np.arange(1.0, 4.0)),
        SeriesColumn(name="inductance", unit="mH", values=each([c.inductance for c in found.coils])),
        SeriesColumn(name="inductance of the string", unit="mH",
                     values=each([c.string_inductance for c in found.coils])),
        SeriesColumn(name="flux per turn of the magnets", unit="µWb",
                     values=each([c.magnet_flux for c in found.coils])),
        SeriesColumn(name="flux per turn of the string", unit="nWb",
                     values=each([c.string_flux for c in found.coils])),
        SeriesColumn(name="sensitivity", unit="mV per m/s", values=each([c.sensitivity for c in found.coils]))))
    swing = Series(name="swing", columns=(
        SeriesColumn(name="time", unit="ms", values=found.time),
        SeriesColumn(name="place z", unit="mm", values=found.place),
        *three("flux per turn of the string", "nWb", "per_turn"), *three("emf", "mV", "emf")))
    charge = Series(name="charge", columns=(
        SeriesColumn(name="charge", unit="%", values=found.charge),
        SeriesColumn(name="sensitivity", unit="mV per m/s", values=found.charged)))
    return table, swing, charge


def _views(found: ThreeCoils, picture: CoilPicture) -> tuple[View, ...]:
    seen = picture.pictures
    motion = Motion.of(found.time.size, z=found.place)
    phase = np.abs(found.place[:, None] - seen.places).argmin(axis=1)
    string = Shape(role="string", outline=seen.string, motion=motion)
    word = label("string", seen.window[0] + 3.2e-3, float(seen.string[1, 0]) + 1.4e-3, motion)

    def view(coil: OneCoil, shapes: tuple[Shape, ...], *, lines: bool) -> View:
        return View(title=coil.name, window=seen.window,
                    shapes=(*shapes, string, word), lines=seen.both if lines else (), phase=phase if lines else None)

    return (view(found.bare, picture.bare, lines=False), view(found.core, picture.core, lines=False),
            view(found.magnet, seen.shapes, lines=True))


def _moving(found: ThreeCoils, picture: CoilPicture) -> MovingPicture:
    flux = best_unit(float(np.max(np.abs(found.magnet.per_turn))), "Wb")
    volts = best_unit(_peak(found.magnet), "V")
    last = (found.magnet, found.core, found.bare)
    return MovingPicture(
        time=found.time, seconds=SECONDS, views=_views(found, picture),
        traces=(Trace(name="place z", unit="mm", curves=(TraceCurve(name="z", values=found.place),)),
                Trace(name="Φ of the string", unit=flux,
                      curves=tuple(TraceCurve(name=c.name, values=c.per_turn) for c in last)),
                Trace(name="e = −dλ/dt", unit=volts, areas=True,
                      curves=tuple(TraceCurve(name=c.name, values=c.emf) for c in last))),
        notes=(
            "The pictures are to scale and the string moves to scale. Between two field lines there is the same flux "
            "everywhere; without a magnet there is none.",
            "Told at the cursor is the coil with the magnet; the other two stand at nothing all the time.",
            "Only the string that moves is shown; the others rest."))


def _slides(found: ThreeCoils, picture: CoilPicture) -> tuple[Slide, ...]:
    names = [c.name for c in found.coils]

    def table(figure: Figure, palette: Palette) -> None:
        ax = figure.subplots()
        ax.set_axis_off()
        rows = _table(found)
        left, step = (0.01, 0.42, 0.62, 0.82), 1 / (len(rows) + 1)
        for row, cells in enumerate([["", *names], *rows]):
            y = 1 - (row + 0.5) * step
            for x, cell in zip(left, cells, strict=True):
                ax.text(x, y, cell, transform=ax.transAxes, va="center", fontsize=17,
                        fontweight="bold" if row == 0 or x == left[0] else "normal")
            ax.plot([0, 1], [y - step / 2] * 2, color=palette.faint, lw=1.5, transform=ax.transAxes)

    def why(figure: Figure, palette: Palette) -> None:
        unit = best_unit(max(c.inductance for c in found.coils), "H")
        flux = best_unit(abs(found.magnet.magnet_flux + found.magnet.string_flux), "Wb")
        bars = ((f"L ({unit})", [c.inductance * scale(unit) for c in found.coils]),
                (f"Φ per turn ({flux})", [(c.magnet_flux + c.string_flux) * scale(flux) for c in found.coils]),
                ("S (mV per m/s)", [_SPEED * c.sensitivity for c in found.coils]))
        for ax, (title, values) in zip(figure.subplots(1, 3), bars, strict=True):
            _bars(ax, title, names, values, palette)

    def sections(figure: Figure, palette: Palette) -> None:
        lowest = int(np.argmin(found.place))
        for ax, view in zip(figure.subplots(1, 3), _views(found, picture), strict=True):
            view_panel(ax, view, palette, lowest)

    def clock(figure: Figure, palette: Palette) -> None:
        t = 1e3 * found.time
        axes = figure.subplots(3, 1, sharex=True)
        flux, volts = (best_unit(float(np.max(np.abs(v))), si)
                       for v, si in ((found.magnet.per_turn, "Wb"), (found.magnet.emf, "V")))
        last = (found.magnet, found.core, found.bare)
        chart(axes[0], t, [("", 1e3 * found.place)], palette, x_name="", y_name="z (mm)")
        chart(axes[1], t, [(c.name, c.per_turn * scale(flux)) for c in last], palette, x_name="",
              y_name=f"Φ ({flux})")
        chart(axes[2], t, [(c.name, c.emf * scale(volts)) for c in last], palette, x_name="time (ms)",
              y_name=f"e ({volts})")
        for ax in axes[1:]:
            ax.legend(loc="center left", bbox_to_anchor=(1.0, 0.5))
        figure.align_ylabels(list(axes))
        axes[2].set_xlim(t[0], t[-1])

    def charge(figure: Figure, palette: Palette) -> None:
        ax = figure.subplots()
        x, y = 100 * found.charge, _SPEED * found.charged
        line(ax, x, y, palette, lw=1.2)
        ax.plot(x, y, "o", ms=11, color=palette.curves[0])
        for a, b in zip(x, y, strict=True):
            ax.annotate(digits(b), (a, b), xytext=(0, 14), textcoords="offset points", ha="center", fontsize=15)
        ax.set(xlabel="charge of the magnets (% of what they have)", ylabel="S (mV per m/s)", xlim=(-8, 104),
               ylim=(-0.04 * y[-1], 1.12 * y[-1]))

    under = f"{found.title}; string {found.number} ({found.pitch}), {said(found.gap, 'm', 2)} over the pole"
    swing = f"{under}, ± {said(found.amplitude, 'm', 2)}"
    return (Slide(name="table", title="One coil three times", under=under, draw=table),
            Slide(name="why", title="Steel raises L; only a magnet makes a flux to be moved", under=under, draw=why),
            Slide(name="sections", title="Bare, with a steel core, with the magnet", under=swing, draw=sections),
            Slide(name="one-clock", title="The same swing over three coils", under=swing, draw=clock),
            Slide(name="charge", title="Less magnet, less voltage", under=under, draw=charge))


def _table(found: ThreeCoils) -> list[list[str]]:
    def row(name: str, cells: list[str]) -> list[str]:
        return [name, *cells]

    unit = best_unit(min(c.string_inductance for c in found.coils), "H")
    return [
        row("core", [_shortly(c) for c in found.coils]),
        row("L without the string", [said(c.inductance, "H") for c in found.coils]),
        row("L that the string adds",
            [f"{digits(c.string_inductance * scale(unit), 2)} {unit}" for c in found.coils]),
        row("that is of L", [_share(c) for c in found.coils]),
        row("Φ per turn without the string", [_flux(c.magnet_flux) for c in found.coils]),
        row("Φ per turn that it adds", [_flux(c.string_flux) for c in found.coils]),
        row("S in mV per m/s", [_speed(c.sensitivity) for c in found.coils]),
    ]


def _flux(flux: float) -> str:
    return said(flux, "Wb") if flux else "0"


def _shortly(coil: OneCoil) -> str:
    """What a core is made of; of several materials the last."""
    return "nothing" if coil.core == "air" else coil.core.split(", ")[-1]


def _bars(ax: Axes, title: str, names: list[str], values: list[float], palette: Palette) -> None:
    bars = ax.bar(names, values, color=palette.curves[:3], width=0.6)
    ax.bar_label(bars, [digits(v) for v in values], padding=3, fontsize=16, fontweight="bold")
    ax.set_title(title)
    low, high = min(0.0, *values), max(0.0, *values)
    room = 0.14 * (high - low or 1.0)
    ax.set_ylim(low - room if low < 0 else 0.0, high + room)
    ax.axhline(0, color=palette.soft, lw=1.2)
    ax.grid(visible=False, axis="x")
