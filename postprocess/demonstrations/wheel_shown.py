"""The demonstration of a wheel that turns past a sensor: its words, slides, tables, moving picture and sounds."""

from __future__ import annotations

import numpy as np

from stringflux.geometry.shapes.tooth_wheel import WheelBuild

from ..wheel.lines import WheelLines
from ..wheel.turning import TurnedWheel
from .parts import Series, SeriesColumn
from .quantities import said
from .record import Demonstration
from .wheel_slides import wheel_slides
from .wheel_view import wheel_moving
from .wheel_words import CAUTIONS, LAW, a_minute, wheel_signs, wheel_steps

RATE = 24_000.0
"""Samples per second of the sounds."""
_SECONDS = 2.0
_RISE = 0.02  # s: a sound that begins at once clicks


def wheel_shown(found: TurnedWheel, build: WheelBuild, lines: WheelLines) -> Demonstration:
    """Everything of the demonstration, from what was found."""
    return Demonstration(
        name="tooth-wheel", title=f"A wheel of {found.teeth} teeth past a magnet with a coil",
        under=f"{found.title}; gap {said(found.own.gap, 'm', 2)}, N = {found.turns:.0f} turns, "
              f"{a_minute(found.speeds[0])} turns a minute",
        found=found, law=LAW, steps=tuple(wheel_steps(found)), signs=wheel_signs(found), cautions=CAUTIONS,
        series=_series(found), slides=wheel_slides(found, build, lines), moving=wheel_moving(found, build, lines),
        sounds=_sounds(found), rate=RATE)


def _series(found: TurnedWheel) -> tuple[Series, ...]:
    own, turn = found.own, 2 * np.pi * found.speeds[0].speed
    tooth = np.linspace(0.0, 2 * np.pi / found.teeth, 97)
    gaps = found.gaps
    return (
        Series(name="turning", columns=(
            SeriesColumn(name="time", unit="ms", values=found.time),
            SeriesColumn(name="angle", unit="°", values=found.angle),
            SeriesColumn(name="flux per turn", unit="µWb", values=found.per_turn),
            SeriesColumn(name="linkage", unit="mWb", values=found.linkage),
            SeriesColumn(name="emf", unit="mV", values=found.emf))),
        Series(name="tooth", columns=(
            SeriesColumn(name="angle", unit="°", values=tooth),
            SeriesColumn(name="linkage", unit="mWb", values=own.at(tooth)),
            SeriesColumn(name="emf at the first speed", unit="mV", values=-turn * own.slope(tooth)))),
        Series(name="speeds", columns=(
            SeriesColumn(name="speed", unit="1/min", values=np.array([s.speed for s in found.speeds])),
            SeriesColumn(name="frequency", unit="Hz", values=np.array([s.frequency for s in found.speeds])),
            SeriesColumn(name="speed of the teeth", unit="m/s", values=np.array([s.way for s in found.speeds])),
            SeriesColumn(name="largest emf", unit="mV", values=np.array([s.peak for s in found.speeds])),
            SeriesColumn(name="skin depth in the wheel", unit="mm",
                         values=np.array([s.skin for s in found.speeds])))),
        Series(name="gaps", columns=(
            SeriesColumn(name="gap", unit="mm", values=np.array([g.gap for g in gaps])),
            SeriesColumn(name="linkage over a tooth", unit="mWb", values=np.array([g.linkage[0] for g in gaps])),
            SeriesColumn(name="linkage over a floor", unit="mWb", values=np.array([g.linkage[-1] for g in gaps])),
            SeriesColumn(name="first harmonic of the linkage", unit="mWb",
                         values=np.array([g.coefficients[1] for g in gaps])),
            SeriesColumn(name="largest emf at the first speed", unit="mV",
                         values=np.array([turn * g.steepest for g in gaps])))))


def _sounds(found: TurnedWheel) -> dict[str, np.ndarray]:
    t = np.arange(round(_SECONDS * RATE)) / RATE
    rise = np.minimum(t / _RISE, 1.0)
    return {f"{round(60 * s.speed)}-a-minute": rise * found.own.emf(t, s.speed) for s in found.speeds}
