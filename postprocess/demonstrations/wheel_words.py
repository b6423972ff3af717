"""A wheel that turns past a sensor, told line by line with its own numbers."""

from __future__ import annotations

import numpy as np

from ..wheel.turning import TurnedWheel, WheelSpeed
from .parts import Step
from .quantities import best_unit, digits, said, scale

LAW = "e = −dλ/dt,   λ = N Φ,   f = teeth × turns per second"
_THIN = 1.0  # of half a tooth: a skin thinner than that is said
CAUTIONS = (
    "A wheel that turns catches sleeves, hair and leads: put a guard round it before anyone comes near.",
    "A strong magnet jumps to the wheel and pinches; fix the sensor before the wheel is brought near.",
)


def wheel_steps(found: TurnedWheel) -> list[Step]:
    """The working."""
    own, first = found.own, found.speeds[0]
    tooth, floor = (float(own.linkage[i]) / found.turns for i in (0, -1))
    flux = best_unit(max(abs(tooth), abs(floor)), "Wb")
    k = scale(flux)
    change = tooth - floor
    half = 1 / (2 * first.frequency)
    slope = own.steepest / found.radius  # V s per metre of the teeth's way
    turns = found.turns
    return [
        Step(says="Every tooth that passes makes one period.", formula="f = n · turns per second",
             numbers=f"{found.teeth} × {a_second(first)}", result=said(first.frequency, "Hz")),
        Step(says="With a tooth over the face more flux goes through a turn than with a floor over it: through steel "
                  "it has the shorter way through air.",
             formula="ΔΦ = Φ(tooth) − Φ(floor)",
             numbers=f"{digits(tooth * k, 4)} {flux} − ({digits(floor * k, 4)} {flux})", result=said(change, "Wb")),
        Step(says="That is what moves of all the flux; the rest stands still and makes no voltage.",
             formula="ΔΦ / Φ(tooth)", numbers=f"{said(change, 'Wb')} / {said(tooth, 'Wb')}",
             result=f"{digits(100 * change / tooth, 2)} %"),
        Step(says="N turns see it, one after the other.", formula="Δλ = N ΔΦ",
             numbers=f"{turns:.0f} × {said(change, 'Wb')}", result=said(turns * change, "Wb")),
        Step(says="From a tooth to a floor it takes half a period.", formula="T/2 = 1/(2 f)",
             numbers=f"1 / (2 × {said(first.frequency, 'Hz')})", result=said(half, "s")),
        Step(says="So while a tooth leaves, the mean voltage is", formula="mean e = Δλ / (T/2)",
             numbers=f"{said(turns * change, 'Wb')} / {said(half, 's')}", result=said(turns * change / half, "V")),
        Step(says="The teeth go by with the speed of the wheel's rim.", formula="v = 2π R · turns per second",
             numbers=f"2π × {said(found.radius, 'm')} × {a_second(first)}", result=said(first.way, "m/s")),
        Step(says="λ changes most where an edge of a tooth passes the face: by so much for every metre of way.",
             formula="S = |dλ/ds|", result=f"{digits(1e3 * slope)} mV per m/s"),
        Step(says="Slope times speed is the largest voltage.", formula="largest e = S v",
             numbers=f"{digits(1e3 * slope)} mV per m/s × {said(first.way, 'm/s')}", result=said(first.peak, "V")),
        *_faster(found), *_gaps(found),
        Step(says="The voltage is no pure sine: its second harmonic is "
                  f"{digits(100 * own.second, 2)} % of the first."),
        *_left_out(found),
    ]


def a_minute(speed: WheelSpeed) -> str:
    """Turns a minute."""
    return f"{60 * speed.speed:.5g}"


def a_second(speed: WheelSpeed) -> str:
    """Turns a second, with their unit."""
    return f"{speed.speed:.4g} 1/s"


def _faster(found: TurnedWheel) -> list[Step]:
    if len(found.speeds) < 2:
        return []
    first, last = found.speeds[0], found.speeds[-1]
    times = last.speed / first.speed
    return [Step(says=f"At {a_minute(last)} turns a minute, {times:.3g} times as fast, the same Δλ comes in so much "
                      "less time: frequency and voltage are both so many times as large.",
                 formula="e, f",
                 numbers=f"{times:.3g} × {said(first.peak, 'V')}, {times:.3g} × {said(first.frequency, 'Hz')}",
                 result=f"{said(last.peak, 'V')}, {said(last.frequency, 'Hz')}")]


def _gaps(found: TurnedWheel) -> list[Step]:
    if len(found.gaps) < 2:
        return []
    turn = 2 * np.pi * found.speeds[0].speed
    said_ones = [f"{said(one.gap, 'm', 2)}: {said(turn * one.steepest, 'V')}" for one in found.gaps]
    one, other = found.gaps[-2:]
    ratio, wave = found.faded
    return [
        Step(says="The gap counts more than anything else. The largest voltage at the first speed, gap by gap:",
             result=", ".join(said_ones)),
        Step(says=f"Far from the wheel the teeth's part of the field fades like a wave that is one pitch long. From "
                  f"{said(one.gap, 'm', 2)} to {said(other.gap, 'm', 2)} the first harmonic of λ is left with "
                  f"{digits(100 * ratio, 2)} %; the wave alone would leave",
             formula="exp(−2π Δg / pitch), on a round wheel ((R + g)/(R + g'))^n",
             result=f"{digits(100 * wave, 2)} %"),
    ]


def _left_out(found: TurnedWheel) -> list[Step]:
    steps = [Step(says="What this leaves out: the ends. All is computed as a section that goes on for ever, and "
                       f"{said(found.length, 'm', 2)} of it are counted. A face of this length, evenly charged, "
                       f"makes {digits(100 * found.ends, 3)} % of an endless one's field at the tooth; the magnet "
                       "leaks round its ends besides. So take these voltages as the most that a real sensor of this "
                       "size gives.")]
    thin = [s for s in found.speeds if s.skin < _THIN * found.tooth / 2]
    if thin:
        first = thin[0]
        steps.append(Step(
            says="Also left out: currents in solid steel. They let a changing field in only to the depth of the "
                 f"skin, {said(first.skin, 'm', 2)} at {said(first.frequency, 'Hz')}, less than half a tooth "
                 f"({said(found.tooth / 2, 'm', 2)}). From {a_minute(first)} turns a minute on, a solid wheel gives "
                 "less than the law of the speed says, and later; a wheel of thin sheets follows it.",
            formula="δ = √(ρ / (π f μ))", result=said(first.skin, "m", 2)))
    return steps


def wheel_signs(found: TurnedWheel) -> tuple[str, ...]:
    """What is counted positive, and Lenz."""
    way = "counter-clockwise" if found.sense > 0 else "clockwise"
    up = "up, out of the face into the wheel" if found.sense > 0 else "down, out of the wheel into the face"
    more = found.own.swing > 0
    end = "north" if found.north > 0 else "south"
    return (
        f"Seen from the wheel the wire goes round {way}, from its start to its finish.",
        f"Φ is positive {up}: the way a right-handed screw moves that is turned as the wire goes round.",
        f"The {end} end points to the wheel, so Φ is {'positive' if found.own.linkage[0] > 0 else 'negative'} here.",
        "e is positive where it drives current from start to finish inside the coil: the finish is then the + end.",
        f"While a tooth comes to the face λ {'grows' if more else 'falls'} and e is "
        f"{'negative' if more else 'positive'}: the {'start' if more else 'finish'} is the + end. While it leaves, "
        "the other end is.",
        "Lenz: if the current can flow, its own flux is against the change. It holds off the tooth that comes and "
        "holds back the one that leaves: the wheel is braked.",
    )
