"""The wheel and its sensor as a moving picture: to scale, the lines of the field at every position, λ and e on one
clock."""

from __future__ import annotations

import numpy as np

from stringflux.geometry.shapes.tooth_wheel import WheelBuild

from ..wheel.lines import WheelLines, Window
from ..wheel.turning import TurnedWheel
from .moving import Motion, MovingPicture, Shape, Trace, TraceCurve, View, box
from .quantities import best_unit, said
from .wheel_words import a_minute

SECONDS = 9.0
_SIDE = 1.9  # pitches to either side
_OVER = 1.1  # pitches of the wheel that are seen


def wheel_window(build: WheelBuild) -> Window:
    """What is seen: x from, to, z from, to, m."""
    low = min(build.sensor.coil.bottom, *(z for part in build.sensor.bars for _, z in part.outline))
    wide = max(_SIDE * build.wheel.pitch, 1.4 * (build.sensor.coil.inner + build.sensor.coil.build), -0.45 * low)
    high = build.gap + build.wheel.height + _OVER * build.wheel.pitch
    return -wide, wide, 1.06 * low, high


def wheel_shapes(build: WheelBuild, motion: Motion | None, turned: float = 0.0) -> tuple[Shape, ...]:
    """Bars, winding and wheel; the wheel moves, or stands turned by an angle, rad."""
    shapes: list[Shape] = [Shape(role="steel", outline=np.array(build.wheel.outline(build.gap, turned)).T,
                                 motion=motion)]
    for bar in build.sensor.bars:
        if not bar.polarity:
            shapes.append(Shape(role="steel", outline=np.array(bar.outline).T))
            continue
        (left, low), _, (right, high), _ = bar.outline
        middle, upper = (low + high) / 2, bar.axis[1] > 0
        north = box(left, middle, right, high) if upper else box(left, low, right, middle)
        south = box(left, low, right, middle) if upper else box(left, middle, right, high)
        shapes += [Shape(role="north", outline=north, label="N"), Shape(role="south", outline=south, label="S")]
    for side in (1, -1):
        away = side * build.sensor.coil.turns > 0
        shapes.append(Shape(role="into" if away else "out", outline=np.array(build.sensor.coil.outline(side)).T,
                            label="⊗" if away else "⊙"))
    return tuple(shapes)


def wheel_views(build: WheelBuild, lines: WheelLines) -> tuple[View, View]:
    """Two still pictures of what is near the face: a tooth over it, and a floor over it."""
    half = len(lines.sets) // 2
    left, right, _, high = wheel_window(build)
    window = (left, right, 1.06 * build.sensor.coil.bottom, high)
    return (View(title="a tooth over the face", window=window, shapes=wheel_shapes(build, None),
                 lines=(lines.sets[0],), phase=np.zeros(1, dtype=np.int64)),
            View(title="a floor over the face", window=window,
                 shapes=wheel_shapes(build, None, build.wheel.angle / 2), lines=(lines.sets[half],),
                 phase=np.zeros(1, dtype=np.int64)))


def wheel_moving(found: TurnedWheel, build: WheelBuild, lines: WheelLines) -> MovingPicture:
    """The wheel at its first speed."""
    sets = len(lines.sets)
    motion = Motion.of(found.time.size, turned=found.angle, about=(0.0, build.centre))
    phase = np.round(found.angle / build.wheel.angle * sets).astype(np.int64) % sets
    per_turn = best_unit(float(np.max(np.abs(found.per_turn))), "Wb")
    linkage = best_unit(float(np.max(np.abs(found.linkage))), "Wb")
    volts = best_unit(float(np.max(np.abs(found.emf))), "V")
    return MovingPicture(
        time=found.time, seconds=SECONDS,
        views=(View(title="", window=wheel_window(build), shapes=wheel_shapes(build, motion), lines=lines.sets,
                    phase=phase),),
        traces=(Trace(name="Φ per turn", unit=per_turn, curves=(TraceCurve(name="Φ", values=found.per_turn),)),
                Trace(name="λ = N Φ", unit=linkage, curves=(TraceCurve(name="λ", values=found.linkage),)),
                Trace(name="e = −dλ/dt", unit=volts, areas=True, curves=(TraceCurve(name="e", values=found.emf),))),
        notes=(
            f"The picture is to scale. The wheel turns {a_minute(found.speeds[0])} times a minute, so "
            "that its teeth go to the right.",
            f"Between two lines there is the same flux at every position, {said(lines.step, 'Wb', 2)} over the "
            f"length of {said(found.length, 'm', 2)}: a line that moves is the same flux moved.",
            "What is computed is a section: as if wheel and sensor went on for ever to the front and to the back.",
            "⊗ is wire that goes away from you, ⊙ wire that comes towards you."))
