"""The words of a magnet that passes a coil: the law line by line with its numbers, the signs, what to mind.

The brake of a tube is told beside that of a point dipole in a thin wall, k = 45 μ0² m² σ δ/(1024 a⁴) with
σ δ = 2/(μ0 w).

References
----------
W. M. Saslow, *Am. J. Phys.* 60 (1992) 693 (memory); see :mod:`stringflux.solver.falling.tube`.
"""

from __future__ import annotations

import math

import numpy as np

from stringflux.geometry.case.keys import sense_of
from stringflux.geometry.demonstrations.falling import FallingMagnet, Tube
from stringflux.solver.constants import MU0

from ..falling.induced import Peak
from ..falling.motion import GRAVITY
from ..falling.passage import Passage
from .parts import Step
from .quantities import best_unit, digits, said, scale

LAW = "e = −dλ/dt,   λ = N Φ"


def volt_seconds(value: float) -> str:
    """An area under e: 1 V s = 1 Wb."""
    return f"{digits(1e3 * value)} mV s"


def slope_words(value: float) -> str:
    """dλ/dz."""
    unit = "V per m/s" if abs(value) >= 1 else "mV per m/s"
    return f"{digits(value * scale(unit))} {unit}"


def moves_words(case: FallingMagnet) -> str:
    """How the magnet moves, as a part of a sentence."""
    drop = case.drop
    if case.core is not None:
        return f"moved by hand to {said(drop.gap or 0.0, 'm', 2)} over a steel core and back"
    if case.tube is not None:
        return f"let go {said(drop.start, 'm')} over the coil's middle, in a tube of {case.tube.material}"
    if drop.speed is not None:
        return f"moved by hand at {said(drop.speed, 'm/s')}"
    return f"let go {said(drop.start, 'm')} over the coil's middle"


def steps(case: FallingMagnet, found: Passage) -> tuple[Step, ...]:
    """The working."""
    return tuple([*_the_magnet(found), *_the_flux(case, found), *_the_areas(found), *_the_peaks(case, found),
                  *(_the_tube(case, case.tube, found) if case.tube is not None else []), *_what_if(case, found)])


def _the_magnet(found: Passage) -> list[Step]:
    m = found.magnet
    return [Step(says=f"Alone in air the magnet's own field works against it: H is {said(m.demagnetising, 'A/m')} in "
                      f"the mean, and on its curve B is {said(m.flux_density, 'T')} there.",
                 formula="M = B/μ0 − H",
                 numbers=f"{said(m.flux_density, 'T')} / μ0 + {said(-m.demagnetising, 'A/m')}",
                 result=said(abs(m.magnetisation), "A/m")),
            Step(says="M times its volume is the magnet's moment.", formula="m = M V",
                 numbers=f"{said(abs(m.magnetisation), 'A/m')} × {digits(1e6 * m.volume)} cm³",
                 result=f"{digits(abs(m.moment))} A m²")]


def _the_flux(case: FallingMagnet, found: Passage) -> list[Step]:
    flux, linkage = float(found.flux[found.middle]), float(found.linkage[found.middle])
    place = "over the core, as near as it comes" if case.core is not None else "in the coil's middle"
    out = [Step(says=f"Φ through a turn is greatest with the magnet {place}; the mean over all turns:",
                formula="Φ greatest", result=said(flux, "Wb")),
           Step(says="All turns see it, one after the other.", formula="λ = N Φ",
                numbers=f"{found.turns:.0f} × {said(flux, 'Wb')}", result=said(linkage, "Wb"))]
    if found.bare_at is not None:
        nearest = int(np.argmin(found.heights))
        ratio = float(found.linkage_at[nearest] / found.bare_at[nearest])
        out.append(Step(says="The steel core gathers the magnet's flux and leads it through the turns.",
                        formula="λ with the core / λ without it",
                        numbers=f"{said(float(found.linkage_at[nearest]), 'Wb')} / "
                                f"{said(float(found.bare_at[nearest]), 'Wb')}", result=digits(ratio)))
    return out


def _the_areas(found: Passage) -> list[Step]:
    (one, two), (changes, back) = found.areas, found.changes
    first, middle = float(found.linkage[0]), float(found.linkage[found.middle])
    unit = best_unit(max(abs(first), abs(middle)), "Wb")
    k = scale(unit)
    return [Step(says="While it comes, λ goes from what it was at first to that. The area under e is the change, "
                      "however fast it goes.", formula="∫ e dt = −N ΔΦ",
                 numbers=f"−({digits(middle * k)} {unit} − {_signed(digits(first * k), unit)})",
                 result=volt_seconds(changes)),
            Step(says=f"Summing the voltage itself gives {volt_seconds(one)}, and {volt_seconds(two)} while the "
                      f"magnet goes away (by λ: {volt_seconds(back)}). The two areas cancel: as much flux "
                      "leaves the coil as came.")]


def _signed(number: str, unit: str) -> str:
    return f"({number} {unit})" if number.startswith("−") else f"{number} {unit}"


def _the_peaks(case: FallingMagnet, found: Passage) -> list[Step]:
    out = []
    for number, (peak, when) in enumerate(((found.first, "first"), (found.second, "second"))):
        if number == 0 and case.drop.speed is None and case.tube is None:
            out.append(Step(says=f"At the {when} peak it has fallen {said(case.drop.start - peak.z, 'm')}.",
                            formula="v = √(2 g h)",
                            numbers=f"√(2 × {digits(GRAVITY)} m/s² × {said(case.drop.start - peak.z, 'm')})",
                            result=said(peak.speed, "m/s")))
        out.append(_slope_times_speed(found, peak, when))
    if abs(found.second.speed / found.first.speed - 1) > 0.005:
        out.append(Step(says="The second peak is higher, for the magnet is faster by then; it is narrower as well, "
                             "and the areas are alike.", formula="second / first peak",
                        numbers=f"{said(abs(found.second.e), 'V')} / {said(abs(found.first.e), 'V')}",
                        result=digits(abs(found.second.e / found.first.e))))
    return out


def _slope_times_speed(found: Passage, peak: Peak, when: str) -> Step:
    slope = float(found.slope(np.array([peak.z]))[0])
    sign = "−" if peak.e < 0 else ""
    return Step(says=f"The {when} peak: with the magnet's middle at {said(peak.z, 'm')}, λ changes by "
                     f"{slope_words(abs(slope))}, and the magnet goes at {said(peak.speed, 'm/s')}.",
                formula="|e| = |dλ/dz| |v|", numbers=f"{slope_words(abs(slope))} × {said(peak.speed, 'm/s')}",
                result=f"{said(abs(peak.e), 'V')}, and e is {sign}{said(abs(peak.e), 'V')}")


def _the_tube(case: FallingMagnet, tube: Tube, found: Passage) -> list[Step]:
    brake, mass, speed = found.brake, found.mass, found.terminal_speed
    if brake is None or mass is None or speed is None:
        return []
    a, m = (tube.inner_diameter + tube.outer_diameter) / 4, found.magnet.moment
    dipole = 45 * MU0 * m * m * 2 / (brake.recession * 1024 * a**4)
    return [Step(says="Every ring of the tube is a turn of its own that is closed. Its current brakes the magnet; "
                      "over the whole wall the brake goes with the speed.", formula="F = k v, and k = σ ∫ B_r² dV",
                 result=f"{digits(brake.whole)} N per m/s"),
            Step(says="It sinks as fast as the brake carries its weight.", formula="v = m g/k",
                 numbers=f"{digits(1e3 * mass)} g × {digits(GRAVITY)} m/s² / {digits(brake.whole)} N per m/s",
                 result=said(speed, "m/s")),
            Step(says="A point dipole in a thin wall has a closed form (Saslow 1992). This magnet fills the tube, "
                      "so it only says how large a brake to expect.", formula="k = 45 μ0² m² σ δ/(1024 a⁴)",
                 result=f"{digits(dipole)} N per m/s, v = {said(mass * GRAVITY / dipole, 'm/s')}"),
            Step(says=f"The field of the currents themselves is left out; at the greatest speed in the tube it takes "
                      f"at most {_most_off(found)} % off the brake.")]


def _most_off(found: Passage) -> str:
    if found.brake is None or found.braked is None:
        return "0"
    fastest = float(np.max(np.abs(found.v[found.braked > 0.01 * found.brake.whole]), initial=0.0))
    return digits(100 * found.brake.off(fastest), 2)


def _what_if(case: FallingMagnet, found: Passage) -> list[Step]:
    peak = max(abs(found.first.e), abs(found.second.e))
    out = [Step(says="The magnet turned round: every Φ changes its sign, and so does e.", formula="first peak",
                result=said(-found.first.e, "V")),
           Step(says="Twice the turns in the same space: every turn sees the same Φ.", formula="greatest e at 2N",
                numbers=f"2 × {said(peak, 'V')}", result=said(2 * peak, "V"))]
    if case.tube is None:
        out.append(Step(says="Twice as fast: the peaks are twice as high and half as long.",
                        formula="peak at twice the speed", numbers=f"2 × {said(peak, 'V')}",
                        result=said(2 * peak, "V")))
    if found.resistance is not None:
        R = found.resistance
        heat = float(np.trapezoid(found.e**2, found.t)) / R
        weight = "" if found.mass is None or case.drop.speed is not None else (
            f"; its weight has done {said(found.mass * GRAVITY * float(found.z[0] - found.z[-1]), 'J')}")
        out.append(Step(says="The open coil carries no current and holds nothing. With its ends joined at most e/R "
                             "would flow. Its heat would come out of the magnet's motion: "
                             f"{said(heat, 'J')}{weight}.",
                        formula="i = e/R", numbers=f"{said(peak, 'V')} / {said(R, 'Ω')}", result=said(peak / R, "A")))
    return out


def signs(case: FallingMagnet, found: Passage) -> tuple[str, ...]:
    """What is counted positive, and Lenz."""
    sense = sense_of(case.coil.winding)
    up = {1: "up", -1: "down"}
    grows = up[int(math.copysign(1, found.linkage[found.middle])) * sense]
    against, with_it = (up[int(math.copysign(1, e)) * sense] for e in (found.first.e, found.second.e))
    return (
        f"Seen from above the wire goes round {'counter-' if sense > 0 else ''}clockwise from its start to its end. "
        "⊗ is wire that goes away from you, ⊙ wire that comes towards you.",
        f"Φ is positive {up[sense]}: the way a right-handed screw moves that is turned as the wire goes round.",
        "z is the height of the magnet's middle over the coil's middle, positive up.",
        "e is positive where it drives current from start to end inside the coil: the end is then +.",
        f"Lenz: the magnet's {case.magnet.down} end comes first, and flux {grows} through the coil grows. The "
        f"current that e would drive makes flux {against}, against the growing: it would push the magnet back. As "
        f"the magnet leaves, the current would make flux {with_it}, against the shrinking: it would hold the magnet.")


def cautions(case: FallingMagnet, found: Passage) -> tuple[str, ...]:
    """What to mind."""
    out = ["Strong magnets jump together and pinch; keep them from cards, instruments and medical implants.",
           "Magnets are brittle: let it fall onto foam, and keep eyes away from splinters."]
    if case.core is not None:
        out.append("The magnet jumps onto the core within the last millimetres: put something of wood or plastic as "
                   "thick as the gap over the core, and keep fingers away.")
    peak = max(abs(found.first.e), abs(found.second.e))
    out.append(f"Set what measures to {said(2 * peak, 'V', 2)} at least; a sound card takes about 1 V and needs a "
               "divider before it.")
    return tuple(out)
